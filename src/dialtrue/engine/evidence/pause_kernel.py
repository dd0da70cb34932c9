"""The compiled look at extra pauses since each onset: those of a bad joint, or of an index delivered again."""

from __future__ import annotations

import math

import numpy as np
from numba import njit


@njit(cache=True, nogil=True, error_model="numpy")
def weigh_pauses(
    rates, means, whole_reads, step_days, length, usual, mark, where, span_of, gap, lasting, sound_open, open_span,
    open_known, bound, left_days, out, begin, end,
):  # fmt: skip
    """Fill ``out`` (n, 1 + spans): extra pauses at unknown rate and length since each onset, against none [nat].

    ``rates`` [1/day] and ``means`` [day] (g,) are equally likely; ``whole_reads`` says that a pause covers reads, one
    at the least; else it is seen only where it covers the whole step between two reads, which most pauses shorter than
    a step do not. ``length``, ``usual``, ``mark``, ``where``, ``span_of`` (n, m) are of the closed pauses;
    ``open_span`` (n,) the span in which an open one began, where ``open_known``; ``left_days`` (n, 1 + spans) what is
    left of the window at each onset. Rows from ``begin`` to before ``end`` are looked at.
    """
    width = out.shape[1]
    part = np.zeros(width)
    for f in range(begin, end):
        out[f, :] = 0.0
        for i in range(rates.shape[0]):
            rate = rates[i]
            mean, seen, least = means[i], 1.0, bound[f]
            if whole_reads:
                mean = max(mean, step_days[f])
            else:
                steps = step_days[f] / mean
                # A pause begins anywhere in a step: the mean chance that it outlasts what is left of that step.
                seen = -math.expm1(-steps) / max(steps, 1e-9)
                least = max(least, step_days[f])
            part[:] = 0.0
            for k in range(length.shape[1]):
                if where[f, k]:
                    extra = rate * seen * seen / mean * math.exp(min(mark[f, k], 60.0) - length[f, k] / mean)
                    part[span_of[f, k]] += math.log1p(extra / usual[f, k])
            held = 0.0
            if open_known[f]:
                held = math.log1p(rate * gap[f] * math.exp(-lasting[f] / mean) / sound_open[f])
            due = rate * seen * math.exp(-least / mean)
            # A pause counts for every onset up to its own span.
            since = 0.0
            for k in range(width - 1, -1, -1):
                since += part[k]
                value = since + (held if open_span[f] >= k else 0.0) - due * left_days[f, k]
                out[f, k] += math.exp(min(value, 600.0))
        for k in range(width):
            out[f, k] = math.log(out[f, k] / rates.shape[0] + 1e-300)
