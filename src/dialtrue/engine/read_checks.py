"""Reads of whole ports checked in one pass: stamps, steps, digits, spikes, and the steps that estimates stand on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from dialtrue.domain.read_checks.rules import READ_RULE
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.scan_order import CORRECTION_US

STAMP_TWICE = READ_RULE["stamp_twice"].bit
STAMP_AHEAD = READ_RULE["stamp_ahead"].bit
NEGATIVE = READ_RULE["negative_step"].bit
IMPOSSIBLE = READ_RULE["impossible_step"].bit
DIGITS = READ_RULE["too_many_digits"].bit
SPIKE = READ_RULE["spike"].bit
TURNS = READ_RULE["turns_unknown"].bit
ESTIMATED = READ_RULE["sent_as_estimated"].bit
REPEATED = READ_RULE["sent_as_repeated"].bit
COPY = READ_RULE["copy"].bit
CORRECTED = READ_RULE["corrected"].bit

STAMP_TOLERANCE_US = 300_000_000
"""A stamp may lie this far after the arrival: two clocks differ. Our assumption: five minutes."""
NO_LINK, NO_END = -1, -2
"""In ``before``: a read that stands with no step before it; a read that is no end of any step."""
_FORWARD, _ROLLED, _BACKWARD, _AMBIGUOUS, _IMPOSSIBLE = range(5)
STEP_KINDS = ("forward", "rolled_over", "backward", "ambiguous", "impossible")
"""What a step can be, as ``domain.difference.KINDS``."""


@dataclass(slots=True)
class PortRecords:
    """What the records say of each run, shapes (runs,).

    ``capacity`` is what the index holds, 0 where not known [counts]; ``most_per_us`` the most the meter can pass,
    infinite where not known [counts/µs]. Run k was fitted or removed at ``breaks_us`` from ``break_first[k]`` to
    ``break_first[k + 1]``, in order: a step across such a moment is no use.
    """

    capacity: Ints
    most_per_us: Floats
    break_first: Ints
    breaks_us: Ints


@dataclass(slots=True)
class CheckedReads:
    """Reads in order of port, time and arrival, shapes (m,) unless said, with what the checks found.

    ``first`` (runs + 1,) begins each run. ``said`` is a sum of the bits of ``READ_RULES``. ``before`` is the row of the
    read at which the step to this one begins, or ``NO_LINK``, ``NO_END``; ``step`` what passed in it. [counts]
    """

    first: Ints
    at_us: Ints
    index: Ints
    said: NDArray[np.int32]
    before: Ints
    step: Ints


def order_of(channel: NDArray[np.int32], at_us: Ints, index: Ints, flag: NDArray[np.int8], known_us: Ints) -> Ints:
    """Return the order by channel, time, arrival, index and flag: the same whatever the order of the rows was.

    Raises
    ------
    Never raises.
    """
    if len(channel) < 2 or _ordered(channel, at_us, index, flag, known_us):
        return np.arange(len(channel))
    return np.lexsort((flag, index, known_us, at_us, channel))


def out_of_order(channel: NDArray[np.int32], at_us: Ints) -> int:
    """Return how many channels have a read that stands after a later one, as the rows came.

    Raises
    ------
    Never raises.

    Source
    ------
    ``CA-VEE``, time check.
    """
    order = np.argsort(channel, kind="stable")
    ports, moments = channel[order], at_us[order]
    back = (ports[1:] == ports[:-1]) & (moments[1:] < moments[:-1])
    return len(np.unique(ports[1:][back]))


def check_reads(
    first: Ints, at_us: Ints, index: Ints, flag: NDArray[np.int8], known_us: Ints, records: PortRecords, *, now_us: int
) -> CheckedReads:
    """Check reads that stand in the order of ``order_of`` and find the steps between those that can be trusted.

    Parameters
    ----------
    first : int64, shape (runs + 1,)
        Run k is the rows from ``first[k]`` to ``first[k + 1]``.
    at_us, index, flag, known_us : arrays, shape (m,)
        As in ``ReadsBatch``.
    records : PortRecords
        Of the same runs.
    now_us : int
        The time of the run. [µs]

    Returns
    -------
    CheckedReads

    Raises
    ------
    Never raises.

    Notes
    -----
    Scalar twin of the steps: ``domain.difference.register_difference``. Where a step is bad and the reads either side
    of one of its ends agree, that end is the mistake and the step goes past it; else both ends stand and nothing is
    said of the use between them.

    Source
    ------
    ``CA-VEE``: time, difference and number-of-dials checks; ``METER-MISREAD`` for a mistake that mends itself.
    """
    said = np.zeros(len(at_us), np.int32)
    before = np.full(len(at_us), NO_END, np.int64)
    step = np.zeros(len(at_us), np.int64)
    _stamps(first, at_us, index, flag, known_us, records.capacity, np.int64(now_us), said)
    _steps(
        first, at_us, index, records.capacity, records.most_per_us, records.break_first, records.breaks_us, said,
        before, step,
    )  # fmt: skip
    return CheckedReads(first, at_us, index, said, before, step)


def mark_spikes(reads: CheckedReads, months_us: Ints, cadence_us: Ints, *, ratio: float, least: int) -> None:
    """Mark the read that ends a month's highest use where it fails the spike check.

    Parameters
    ----------
    reads : CheckedReads
        ``said`` is added to.
    months_us : int64, shape (months + 1,)
        Where each month begins, and the end of the last. [µs]
    cadence_us : int64, shape (runs,)
        Usual time between two reads; only steps of about that length are compared. [µs, 0: not known]
    ratio : float
        Greatest (highest - third highest) / third highest that passes. [-, > 0]
    least : int
        Smallest third highest that is compared. [counts, >= 1]

    Raises
    ------
    Never raises.

    Source
    ------
    ``CA-VEE``, spike check; that the period is the month is our assumption. Scalar twin:
    ``domain.read_checks.estimates.spike``.
    """
    _spikes(reads.first, reads.at_us, reads.before, reads.step, months_us, cadence_us, ratio, least, reads.said)


def use_by_month(reads: CheckedReads, months_us: Ints) -> tuple[Floats, Ints]:
    """Return what passed in each month and over how long, both (runs, months); a step counts where it ends.

    What ends before the first month is left out.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.
    """
    runs, months = len(reads.first) - 1, max(len(months_us) - 1, 1)
    volume, lasted = np.zeros((runs, months)), np.zeros((runs, months), np.int64)
    _months(reads.first, reads.at_us, reads.before, reads.step, months_us, volume, lasted)
    return volume, lasted


def still_since(reads: CheckedReads) -> tuple[Ints, Ints]:
    """Return for each run when the index last moved and when it was last trusted, -1 where never. [µs]

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.
    """
    runs = len(reads.first) - 1
    moved, last = np.full(runs, -1, np.int64), np.full(runs, -1, np.int64)
    _still(reads.first, reads.at_us, reads.before, reads.step, moved, last)
    return moved, last


@njit(cache=True, nogil=True)
def _ordered(channel, at_us, index, flag, known_us):
    for i in range(1, channel.shape[0]):
        if channel[i] != channel[i - 1]:
            if channel[i] < channel[i - 1]:
                return False
        elif at_us[i] != at_us[i - 1]:
            if at_us[i] < at_us[i - 1]:
                return False
        elif known_us[i] != known_us[i - 1]:
            if known_us[i] < known_us[i - 1]:
                return False
        elif index[i] != index[i - 1]:
            if index[i] < index[i - 1]:
                return False
        elif flag[i] < flag[i - 1]:
            return False
    return True


@njit(cache=True, nogil=True)
def _stamps(first, at_us, index, flag, known_us, capacity, now_us, said):
    for r in range(first.shape[0] - 1):
        low = first[r]
        while low < first[r + 1]:
            high = low + 1
            while high < first[r + 1] and at_us[high] == at_us[low]:
                high += 1
            chosen, differ, arrived = np.int64(-1), False, np.int64(0)
            for i in range(low, high):
                if at_us[i] > now_us or at_us[i] > known_us[i] + STAMP_TOLERANCE_US:
                    said[i] |= STAMP_AHEAD
                if capacity[r] > 0 and index[i] >= capacity[r]:
                    said[i] |= DIGITS
                if flag[i] == 1:
                    said[i] |= ESTIMATED
                elif flag[i] == 2:
                    said[i] |= REPEATED
                elif chosen < 0:
                    chosen, arrived = i, known_us[i]
                elif index[i] != index[chosen]:
                    differ = True
            if chosen >= 0 and high - low > 1:
                last = chosen
                for i in range(low, high):
                    if flag[i] == 0:
                        last = i
                # One that came much later than all others corrects them; reads stand in order of arrival.
                alone = known_us[last] - arrived >= CORRECTION_US
                for i in range(low, high):
                    if flag[i] != 0 or (differ and alone and i == last) or (not differ and i == chosen):
                        continue
                    if not differ:
                        said[i] |= COPY
                    else:
                        said[i] |= CORRECTED if alone else STAMP_TWICE
            low = high


@njit(cache=True, nogil=True)
def _kind_of(one, other, lasted, capacity, most_per_us):
    """Return what a step is and what passed in it; see ``register_difference``."""
    most = most_per_us * lasted + 1.0
    if capacity <= 0:
        d = other - one
        if d >= 0:
            return (_FORWARD if d <= most else _IMPOSSIBLE), d
        return (_BACKWARD if -d <= most else _IMPOSSIBLE), d
    d = (other - one) % capacity
    if not np.isfinite(most):
        return (_FORWARD, d) if other >= one else (_BACKWARD, other - one)
    if d + capacity <= most:
        return _AMBIGUOUS, d
    if d <= most:
        return (_FORWARD if other >= one else _ROLLED), d
    if capacity - d <= most:
        return _BACKWARD, d - capacity
    return _IMPOSSIBLE, d


@njit(cache=True, nogil=True)
def _broken(breaks_us, low, high, from_us, to_us):
    """Say whether a fitting or a removal lies in (from, to]."""
    for k in range(low, high):
        if breaks_us[k] > to_us:
            return False
        if breaks_us[k] > from_us:
            return True
    return False


_NO_STEP = ESTIMATED | REPEATED | COPY | CORRECTED | STAMP_TWICE | DIGITS | STAMP_AHEAD
_BIT_OF = (0, 0, NEGATIVE, TURNS, IMPOSSIBLE)


@njit(cache=True, nogil=True)
def _steps(first, at_us, index, capacity, most_per_us, break_first, breaks_us, said, before, step):
    for r in range(first.shape[0] - 1):
        cap, most = capacity[r], most_per_us[r]
        b0, b1 = break_first[r], break_first[r + 1]
        end, prior, previous = first[r + 1], np.int64(-1), np.int64(-1)
        i = first[r]
        while i < end:
            if said[i] & _NO_STEP:
                i += 1
                continue
            if previous < 0 or _broken(breaks_us, b0, b1, at_us[previous], at_us[i]):
                before[i], prior, previous = NO_LINK, -1, i
                i += 1
                continue
            kind, d = _kind_of(index[previous], index[i], at_us[i] - at_us[previous], cap, most)
            if kind <= _ROLLED:
                before[i], step[i] = previous, d
                prior, previous = previous, i
                i += 1
                continue
            said_of = _BIT_OF[kind]
            if kind != _AMBIGUOUS:
                n = i + 1
                while n < end and said[n] & _NO_STEP:
                    n += 1
                if n < end and not _broken(breaks_us, b0, b1, at_us[i], at_us[n]):
                    past, _ = _kind_of(index[previous], index[n], at_us[n] - at_us[previous], cap, most)
                    if past <= _ROLLED:
                        said[i] |= said_of
                        i += 1
                        continue
                if prior >= 0:
                    past, d = _kind_of(index[prior], index[i], at_us[i] - at_us[prior], cap, most)
                    if past <= _ROLLED:
                        said[previous] |= said_of
                        before[previous], step[previous] = NO_END, 0
                        before[i], step[i] = prior, d
                        previous = i
                        prior = before[i]
                        i += 1
                        continue
            said[i] |= said_of
            before[i], prior, previous = NO_LINK, -1, i
            i += 1


@njit(cache=True, nogil=True)
def _spikes(first, at_us, before, step, months_us, cadence_us, ratio, least, said):
    for r in range(first.shape[0] - 1):
        month = 0
        one, two, three, row = np.int64(-1), np.int64(-1), np.int64(-1), np.int64(-1)
        for i in range(first[r], first[r + 1] + 1):
            last = i == first[r + 1]
            while last or (month + 1 < months_us.shape[0] and at_us[i] > months_us[month + 1]):
                if three >= least and one - three > ratio * three:
                    said[row] |= SPIKE
                one, two, three, row = np.int64(-1), np.int64(-1), np.int64(-1), np.int64(-1)
                month += 1
                if last:
                    break
            if last or before[i] < 0 or (at_us[i] - at_us[before[i]]) * 2 > 3 * cadence_us[r]:
                continue
            if step[i] > one:
                one, two, three, row = step[i], one, two, i
            elif step[i] > two:
                two, three = step[i], two
            elif step[i] > three:
                three = step[i]


@njit(cache=True, nogil=True)
def _months(first, at_us, before, step, months_us, volume, lasted):
    most = volume.shape[1] - 1
    for r in range(first.shape[0] - 1):
        month = 0
        for i in range(first[r], first[r + 1]):
            if before[i] < 0 or at_us[i] <= months_us[0]:
                continue
            while month < most and at_us[i] > months_us[month + 1]:
                month += 1
            volume[r, month] += step[i]
            lasted[r, month] += at_us[i] - at_us[before[i]]


@njit(cache=True, nogil=True)
def _still(first, at_us, before, step, moved, last):
    for r in range(first.shape[0] - 1):
        for i in range(first[r], first[r + 1]):
            if before[i] == NO_END:
                continue
            last[r] = at_us[i]
            if before[i] == NO_LINK or step[i] > 0:
                moved[r] = at_us[i]
