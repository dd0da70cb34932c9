"""The compiled likelihood of a port's dial/index pairs under each way that a count goes wrong.

Each pair j gives x = index moved, d = dial moved, both in litres since the fitting. Under a hypothesis the index should
have moved by mu(d, t); the residual scatters by reading steps, pulse phase and the time between the two looks, and a
small share of dial reads is simply misread.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

ROOT_2PI = math.sqrt(2 * math.pi)


@njit(cache=True, inline="always")
def _pair_density(residual, sd, misread, spread):
    z = residual / sd
    good = math.exp(-0.5 * z * z) / (sd * ROOT_2PI) if z * z < 900 else 0.0
    return math.log((1 - misread) * good + misread / spread)


@njit(cache=True)
def _spread_l(d, x, sd, step_l):
    return max(2 * (abs(d) + abs(x)), 60 * sd, 100 * step_l)


@njit(cache=True)
def _noise_l(ratio, quantum_dial, weight, quantum_index, bridge):
    variance = (ratio * ratio * quantum_dial * quantum_dial + weight * weight + quantum_index * quantum_index) / 6
    return math.sqrt(variance + bridge * bridge) + 1e-6


@njit(cache=True)
def ratio_loglik(d, x, t_us, bridge, misread, qd, w, qe, ratio, onset_us, onset_l):
    """Log-likelihood that the index runs at ``ratio`` times the dial from an onset on, and true before it."""
    total = 0.0
    for j in range(d.shape[0]):
        if t_us[j] > onset_us:
            mu = onset_l + ratio * (d[j] - onset_l)
            sd = _noise_l(ratio, qd, w, qe, bridge[j])
        else:
            mu = d[j]
            sd = _noise_l(1.0, qd, w, qe, bridge[j])
        total += _pair_density(x[j] - mu, sd, misread[j], _spread_l(d[j], x[j], sd, qd + w))
    return total


@njit(cache=True)
def best_ratio(d, x, t_us, bridge, qd, w, qe, onset_us, onset_l):
    """Least-squares ratio after an onset and its standard error; (nan, inf) where no pair speaks of it."""
    top = 0.0
    bottom = 0.0
    for j in range(d.shape[0]):
        if t_us[j] > onset_us:
            z = d[j] - onset_l
            sd = _noise_l(1.0, qd, w, qe, bridge[j])
            top += z * (x[j] - onset_l) / (sd * sd)
            bottom += z * z / (sd * sd)
    if bottom <= 0.0:
        return np.nan, np.inf
    return top / bottom, 1.0 / math.sqrt(bottom)


@njit(cache=True)
def _with_chance(d, t_us, bridge, w, ratio, onset_us, onset_l):
    """Return the spreads with the binomial scatter of pulses that are each lost, or each doubled, with one chance."""
    share = ratio - math.floor(ratio)
    wider = bridge.copy()
    for j in range(d.shape[0]):
        if t_us[j] > onset_us:
            wider[j] = math.hypot(bridge[j], math.sqrt(abs(d[j] - onset_l) * w * share * (1.0 - share)))
    return wider


@njit(cache=True)
def free_ratio_loglik(d, x, t_us, bridge, misread, qd, w, qe, low, high, log_scale, onset_us, onset_l):
    """Marginal log-likelihood over an unknown ratio in [low, high]; returns it with the best ratio.

    On a plain scale the ratio is a share of pulses lost or doubled one by one, so the counts scatter by chance as well.
    """
    r, s = best_ratio(d, x, t_us, bridge, qd, w, qe, onset_us, onset_l)
    if not log_scale and math.isfinite(s):
        bridge = _with_chance(d, t_us, bridge, w, min(max(r, low), high), onset_us, onset_l)
        r, s = best_ratio(d, x, t_us, bridge, qd, w, qe, onset_us, onset_l)
    if not math.isfinite(s):
        return ratio_loglik(d, x, t_us, bridge, misread, qd, w, qe, 1.0, onset_us, onset_l), np.nan
    inside = min(max(r, low), high)
    value = ratio_loglik(d, x, t_us, bridge, misread, qd, w, qe, inside, onset_us, onset_l)
    width = high - low
    density = 1.0 / (abs(inside) * math.log(high / low)) if log_scale else 1.0 / width
    occupied = min(ROOT_2PI * s * density, 1.0)
    if inside != r:
        occupied *= 0.5
    return value + math.log(occupied + 1e-12), inside


@njit(cache=True)
def drift_loglik(d, x, clock, bridge, misread, qd, w, qe, top):
    """Marginal log-likelihood of counts that come with a clock (days, wet hours) on top of the water.

    ``clock`` is what the drift is proportional to, zero before its onset; ``top`` the largest rate thinkable. Returns
    it with the best rate, nan where no pair speaks of it.
    """
    rate = 0.0
    spread = np.inf
    # Twice: electrical counts clump, so the drift itself scatters by a quarter between looks (our assumption), and
    # that scatter needs the rate first.
    for _ in range(2):
        a = 0.0
        b = 0.0
        for j in range(d.shape[0]):
            sd = math.hypot(_noise_l(1.0, qd, w, qe, bridge[j]), 0.25 * rate * clock[j])
            a += clock[j] * (x[j] - d[j]) / (sd * sd)
            b += clock[j] * clock[j] / (sd * sd)
        if b <= 0.0:
            break
        spread = 1.0 / math.sqrt(b)
        rate = min(max(a / b, 0.0), top)
    total = 0.0
    for j in range(d.shape[0]):
        sd = math.hypot(_noise_l(1.0, qd, w, qe, bridge[j]), 0.25 * rate * clock[j])
        total += _pair_density(x[j] - d[j] - rate * clock[j], sd, misread[j], _spread_l(d[j], x[j], sd, qd + w))
    if not math.isfinite(spread):
        return total - 1.0, np.nan
    # Rates are log-uniform over four decades below the top.
    occupied = min(ROOT_2PI * spread / (max(rate, 2 * spread) * 9.2), 1.0)
    return total + math.log(occupied + 1e-12), rate


@njit(cache=True)
def offset_loglik(d, x, bridge, misread, qd, w, qe, first, span):
    """Marginal log-likelihood of one constant offset from pair ``first`` on; returns it with the best offset."""
    a = 0.0
    b = 0.0
    for j in range(first, d.shape[0]):
        sd = _noise_l(1.0, qd, w, qe, bridge[j])
        a += (x[j] - d[j]) / (sd * sd)
        b += 1.0 / (sd * sd)
    if b <= 0.0:
        return -60.0, np.nan
    offset = a / b
    s = 1.0 / math.sqrt(b)
    total = 0.0
    for j in range(d.shape[0]):
        sd = _noise_l(1.0, qd, w, qe, bridge[j])
        mu = d[j] + (offset if j >= first else 0.0)
        total += _pair_density(x[j] - mu, sd, misread[j], _spread_l(d[j], x[j], sd, qd + w))
    # Offsets are decades wide: density of log-uniform between one step and the dial's capacity, either sign.
    size = max(abs(offset), 2 * s)
    density = 0.5 / (size * max(math.log(span / (2 * s)), 1.0))
    return total + math.log(min(ROOT_2PI * s * density, 1.0) + 1e-12), offset


@njit(cache=True)
def capacity_loglik(d, x, bridge, misread, qd, w, qe, modulus):
    """Log-likelihood that the index lost whole turns of a smaller modulus, more of them as time goes on."""
    total = 0.0
    turns_before = 0.0
    for j in range(d.shape[0]):
        sd = _noise_l(1.0, qd, w, qe, bridge[j])
        turns = max(np.round((d[j] - x[j]) / modulus), 0.0)
        cost = math.log(0.5) if turns != turns_before else math.log(0.9)
        turns_before = turns
        total += cost + _pair_density(x[j] - d[j] + turns * modulus, sd, misread[j], _spread_l(d[j], x[j], sd, qd + w))
    return total, turns_before


@njit(cache=True)
def patchy_loglik(d, x, bridge, misread, qd, w, qe):
    """Log-likelihood that each span between looks lost its own share of the counts, many spans none."""
    total = 0.0
    for j in range(d.shape[0]):
        dd = d[j] - (d[j - 1] if j else 0.0)
        xx = x[j] - (x[j - 1] if j else 0.0)
        back = bridge[j - 1] if j else 0.0
        sd = _noise_l(1.0, qd, w, qe, math.hypot(bridge[j], back))
        wide = max(dd, 0.0) + 4 * sd
        clean = math.exp(_pair_density(xx - dd, sd, misread[j], _spread_l(dd, xx, sd, qd + w)))
        lost = 1.0 / wide if -2 * sd < xx < dd + 2 * sd else misread[j] / _spread_l(dd, xx, sd, qd + w)
        total += math.log(0.4 * clean + 0.6 * lost)
    return total


@njit(cache=True)
def late_loglik(d, x, bridge, misread, qd, w, qe):
    """Log-likelihood that at some looks the index lags by what is not delivered yet, and at others has caught up."""
    total = 0.0
    for j in range(d.shape[0]):
        sd = _noise_l(1.0, qd, w, qe, bridge[j])
        lag = d[j] - x[j]
        clean = math.exp(_pair_density(-lag, sd, misread[j], _spread_l(d[j], x[j], sd, qd + w)))
        late = 1.0 / (abs(d[j]) + 4 * sd) if -2 * sd < lag < abs(d[j]) + 2 * sd else 0.0
        total += math.log(0.75 * clean + 0.25 * late + 1e-30)
    return total
