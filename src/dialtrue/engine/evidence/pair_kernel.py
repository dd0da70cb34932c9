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
LOG_2 = math.log(2.0)
LATE_NOTE, WRONG_HOUR = 0.08, 0.3
"""Share of looks written down at another hour than they were taken, and how far off [days]. Our assumption."""
SLIP_SHARE = 0.9
"""Share of misread dials that are off by one wrong figure or two exchanged ones. Our assumption."""
REGULAR, LOOSE = 0.04, 0.3
"""From look to look a share lost or doubled, or counts by the clock, keep to their mean within this part of themselves:
either a constant of the device, or something that changes with flow and use. Our assumption: one is as likely as the
other."""
COURSE = 0.35
"""How far the ratio of two households scatters from look to look [nat]. Our assumption, from months of one against
another."""
STOPPED, CLEAN = 0.8, 0.25
"""How far the share that a loose joint lost scatters from look to look about its mean, and the share of spans between
looks in which it lost nothing. Our assumption: it stops for hours or days, or not at all."""
DAMP, SOAKED = 0.15, 0.5
"""The same for counts in rain, of which no two are alike. Our assumption."""
SHUNT_SHARE, SHUNT_TOP = 0.25, 2.0
"""Share of bad joints that are wet splices, which hold the line closed in rain, and the most that is lost of what is
drawn in wet hours: more than all, as a splice dries slower than the hours that count as wet. Our assumption."""


@njit(cache=True, inline="always")
def log_add(a, b):
    """Return the log of the sum of two numbers given by their logs."""
    top = max(a, b)
    return top + math.log(math.exp(a - top) + math.exp(b - top))


@njit(cache=True, inline="always")
def pair_density(residual, sd, misread, spread):
    """Log density of a residual: Gaussian, or a misread dial spread evenly."""
    z = residual / sd
    good = math.exp(-0.5 * z * z) / (sd * ROOT_2PI) if z * z < 900 else 0.0
    return math.log((1 - misread) * good + misread / spread)


@njit(cache=True, inline="always")
def spread_l(d, x, sd, step_l):
    """Range over which a misread dial may fall [L]."""
    return max(2 * (abs(d) + abs(x)), max(60 * sd, 100 * step_l))


@njit(cache=True, inline="always")
def noise_l(ratio, quantum_dial, weight, quantum_index, bridge):
    """Standard deviation of index minus ratio times dial at one look [L]."""
    variance = (ratio * ratio * quantum_dial * quantum_dial + weight * weight + quantum_index * quantum_index) / 6
    return math.sqrt(variance + bridge * bridge) + 1e-6


@njit(cache=True)
def true_logs(d, x, bridge, misread, slip, day_l, qd, w, qe, out):
    """Fill ``out`` with each pair's log density if the index counts true; returns their sum.

    ``slip`` (n,) is the density [1/L] that a slip of the pen gives to the residual of a misread dial, beside the even
    spread of any other misreading. ``day_l`` is what the index draws in a day: some looks are written down at another
    hour than they were taken.
    """
    total = 0.0
    for j in range(d.shape[0]):
        sd = noise_l(1.0, qd, w, qe, bridge[j])
        z = (x[j] - d[j]) / sd
        good = math.exp(-0.5 * z * z) / (sd * ROOT_2PI) if z * z < 900 else 0.0
        wide = math.hypot(sd, WRONG_HOUR * day_l)
        z = (x[j] - d[j]) / wide
        good = (1.0 - LATE_NOTE) * good + LATE_NOTE * math.exp(-0.5 * min(z * z, 900.0)) / (wide * ROOT_2PI)
        bad = (1.0 - SLIP_SHARE) / spread_l(d[j], x[j], sd, qd + w) + SLIP_SHARE * slip[j]
        out[j] = math.log((1 - misread[j]) * good + misread[j] * bad)
        total += out[j]
    return total


@njit(cache=True)
def fixed_ratio(d, x, bridge, misread, qd, w, qe, ratio, first, low_l, high_l, base, floor):
    """Log-likelihood that the index runs at ``ratio`` times the dial from an onset on, less that of a true count.

    Pairs from ``first`` on come after the onset, at which the index stood somewhere from ``low_l`` to ``high_l``; that
    place is averaged over. ``base`` holds the pairs' log densities under a true count, ``floor`` what is said if every
    later look was misread; no less is returned.
    """
    n = d.shape[0]
    if first >= n:
        return 0.0
    c_low = (1.0 - ratio) * low_l
    c_high = (1.0 - ratio) * high_l
    if c_low > c_high:
        c_low, c_high = c_high, c_low
    # Where neither the first nor the last look after the onset can be reached, the rest need not be tried.
    far = 0
    for j in (first, n - 1):
        sd = noise_l(ratio, qd, w, qe, bridge[j])
        res = x[j] - ratio * d[j]
        if res < c_low - 7 * sd or res > c_high + 7 * sd:
            far += 1
    if far == 2:
        return floor
    best = -1e300
    precision = 0.0
    # The dial at the fitting was read down to a step like any other: all looks share what that left out.
    shared = (ratio * ratio * qd * qd + w * w + qe * qe) / 12.0
    for attempt in range(2):
        top = 0.0
        bottom = 0.0
        for j in range(first, n):
            sd = noise_l(ratio, qd, w, qe, bridge[j])
            res = x[j] - ratio * d[j]
            weight = 1.0 / (sd * sd)
            if attempt == 1:
                # A misread dial must not draw the place of the onset to itself.
                away = 0.0
                if res < c_low:
                    away = (c_low - res) / sd
                elif res > c_high:
                    away = (res - c_high) / sd
                weight /= 1.0 + away * away
            top += weight * res
            bottom += weight
        c = top / bottom
        value = 0.0
        if c < c_low or c > c_high:
            edge = c_low if c < c_low else c_high
            c = (top + edge / shared) / (bottom + 1.0 / shared)
            value = -0.5 * (c - edge) * (c - edge) / shared
        for j in range(first, n):
            sd = noise_l(ratio, qd, w, qe, bridge[j])
            value += pair_density(x[j] - ratio * d[j] - c, sd, misread[j], spread_l(d[j], x[j], sd, qd + w)) - base[j]
        if value > best:
            best = value
            precision = bottom
    width = c_high - c_low
    if width > 0.0:
        best += math.log(min(ROOT_2PI / math.sqrt(precision) / width, 1.0))
    else:
        best -= 0.5 * math.log(1.0 + precision * shared)
    return max(best, floor)


@njit(cache=True)
def other_course(d, x, bridge, misread, qd, w, qe, base):
    """Log-likelihood that the index follows another dial, less that of a true count; and the ratio of the two.

    Another household uses a like amount from look to look, but not in proportion: its ratio to this one is log-uniform
    from 0.01 to 100 as a whole, and scatters from look to look.
    """
    n = d.shape[0]
    if d[n - 1] <= 0.0 or x[n - 1] <= 0.0:
        return -6.0, np.nan
    ratio = min(max(x[n - 1] / d[n - 1], 0.01), 100.0)
    total = 0.0
    told = 0
    last_d, last_x, last_bridge = 0.0, 0.0, 0.0
    for j in range(n):
        dd, dx = d[j] - last_d, x[j] - last_x
        sd = noise_l(ratio, qd, w, qe, bridge[j])
        loose = COURSE * ratio * abs(dd)
        sd = math.sqrt(sd * sd + last_bridge * last_bridge + loose * loose)
        z = (dx - ratio * dd) / sd
        good = (1.0 - misread[j]) * math.exp(-0.5 * min(z * z, 900.0)) / (sd * ROOT_2PI)
        bad = misread[j] / spread_l(d[j], x[j], sd, qd + w)
        total += math.log(good + bad) - base[j]
        if good > bad:
            told += 1
            last_d, last_x, last_bridge = d[j], x[j], bridge[j]
    # Each look that fits tells the ratio of the two homes to within COURSE of itself; together they tell it better.
    total += math.log(ROOT_2PI * COURSE / math.sqrt(max(told, 1)) / math.log(1e4))
    return total, ratio


@njit(cache=True, inline="always")
def share_density(ratio):
    """Density of the ratio that lost or doubled pulses give.

    Source: the trade's range, 0.2 to 1 for lost and 1.02 to 1.6 for doubled pulses (common
    practice); few lie beyond it (our assumption).
    """
    if ratio < 0.2:
        return 0.05 / 0.18
    if ratio < 1.0:
        return 0.95 / 0.785
    if ratio < 1.6:
        return 0.9 / 0.585
    return 0.1 / 0.35


@njit(cache=True)
def walk_on(d, x, clock, bridge, misread, qd, w, qe, first, onset_l, blur_l, blur_clock, ratio, rate, scatter, base):
    """Log-likelihood of the looks from ``first`` on, each given the one before, less that of a true count.

    Between two looks the index moves by ``ratio`` times the dial and by ``rate`` times the clock; the part that is
    wrong keeps to its mean within ``scatter`` of itself, and pulses lost or doubled one by one scatter by chance. The
    onset is known to within ``blur_l`` of the index and ``blur_clock`` of the clock. A look that a misread dial
    explains better is passed over, so that it does not spoil the next.
    """
    share = ratio - math.floor(ratio)
    last_d, last_x, last_clock, last_bridge = onset_l, onset_l, 0.0, 0.0
    blur = math.hypot((1.0 - ratio) * blur_l, rate * blur_clock)
    total = 0.0
    for j in range(first, d.shape[0]):
        dd, dx, dc = d[j] - last_d, x[j] - last_x, clock[j] - last_clock
        chance = abs(dd) * w * share * (1.0 - share)
        loose = scatter * (abs(1.0 - ratio) * abs(dd) + rate * max(dc, 0.0))
        sd = noise_l(ratio, qd, w, qe, bridge[j])
        sd = math.sqrt(sd * sd + last_bridge * last_bridge + chance + loose * loose + blur * blur)
        z = (dx - ratio * dd - rate * dc) / sd
        good = (1.0 - misread[j]) * math.exp(-0.5 * min(z * z, 900.0)) / (sd * ROOT_2PI)
        bad = misread[j] / spread_l(d[j], x[j], sd, qd + w)
        total += math.log(good + bad) - base[j]
        if good > bad:
            last_d, last_x, last_clock, last_bridge, blur = d[j], x[j], clock[j], bridge[j], 0.0
    return total


@njit(cache=True)
def _fit(d, x, clock, bridge, qd, w, qe, first, onset_l, blur_l, blur_clock, by_clock, scatter, attempts):
    """Fit the ratio (``by_clock`` False) or the rate of ``walk_on`` by least squares that distrust outliers.

    Returns it with its standard error; inf where nothing tells it.
    """
    value, s = (0.0 if by_clock else 1.0), np.inf
    for attempt in range(attempts):
        top = 0.0
        bottom = 0.0
        last_d, last_x, last_clock = onset_l, onset_l, 0.0
        blur = value * blur_clock if by_clock else (1.0 - value) * blur_l
        for j in range(first, d.shape[0]):
            dd, dx, dc = d[j] - last_d, x[j] - last_x, clock[j] - last_clock
            z, y = (dc, dx - dd) if by_clock else (dd, dx)
            sd = noise_l(1.0, qd, w, qe, bridge[j])
            loose = scatter * (value * dc if by_clock else (1.0 - value) * dd)
            sd = math.sqrt(sd * sd + loose * loose + blur * blur)
            blur = 0.0
            weight = 1.0 / (sd * sd)
            if attempt > 0:
                away = (y - value * z) / (3.0 * sd)
                weight /= 1.0 + away * away
            top += weight * z * y
            bottom += weight * z * z
            last_d, last_x, last_clock = d[j], x[j], clock[j]
        if bottom <= 0.0:
            return value, np.inf
        value, s = top / bottom, 1.0 / math.sqrt(bottom)
    return value, s


@njit(cache=True)
def free_share(d, x, clock, bridge, misread, qd, w, qe, low, high, first, onset_l, blur_l, base, attempts):
    """Log-likelihood of a share of pulses lost or doubled after an onset, less that of a true count; and the ratio.

    ``attempts`` is 1 where no look stands out, 3 where some may have to be distrusted.
    """
    if first >= d.shape[0]:
        return 0.0, np.nan
    total = 0.0
    best = 1.0
    for number, scatter in enumerate((LOOSE, REGULAR)):
        r, s = _fit(d, x, clock, bridge, qd, w, qe, first, onset_l, blur_l, 0.0, False, scatter, attempts)
        if not math.isfinite(s):
            return 0.0, np.nan
        inside = min(max(r, low), high)
        value = walk_on(
            d, x, clock, bridge, misread, qd, w, qe, first, onset_l, blur_l, 0.0, inside, 0.0, scatter, base
        )
        occupied = min(ROOT_2PI * s * share_density(inside), 1.0) * (0.5 if inside != r else 1.0)
        value += math.log(occupied + 1e-12)
        if number == 0:
            total, best = value, inside
            if attempts == 1:
                break
        else:
            # A tie is the looser one's, whatever the last digit of the floats says.
            if value > total + 1e-9:
                best = inside
            total = log_add(total, value) - LOG_2
    return total, best


@njit(cache=True)
def drift(
    d, x, clock, bridge, misread, qd, w, qe, top, tight, loose, tight_share, first, onset_l, blur_clock, base, attempts
):  # fmt: skip
    """Log-likelihood of counts that come with a clock (days, wet hours) on top of the water, less a true count's.

    ``clock`` is what the drift is proportional to, zero at its onset; ``top`` the largest rate thinkable;
    ``tight_share`` the share of such causes that keep to their mean within ``tight``, the others within ``loose``.
    Returns it with the best rate, nan where no pair speaks of it.
    """
    if first >= d.shape[0]:
        return 0.0, np.nan
    total = 0.0
    best = 0.0
    for number, scatter in enumerate((loose, tight)):
        rate, s = _fit(d, x, clock, bridge, qd, w, qe, first, onset_l, 0.0, blur_clock, True, scatter, attempts)
        if not math.isfinite(s):
            return 0.0, np.nan
        rate = min(max(rate, 0.0), top)
        value = walk_on(
            d, x, clock, bridge, misread, qd, w, qe, first, onset_l, 0.0, blur_clock, 1.0, rate, scatter, base
        )
        # Rates are log-uniform over four decades below the top.
        value += math.log(min(ROOT_2PI * s / (max(rate, 2 * s) * 9.2), 1.0) + 1e-12)
        if number == 0:
            total, best = value, rate
            if attempts == 1:
                break
            total += math.log(1.0 - tight_share)
        else:
            value += math.log(tight_share)
            # A tie is the looser one's, whatever the last digit of the floats says.
            if value > total + 1e-9:
                best = rate
            total = log_add(total, value)
    return total, best


@njit(cache=True)
def shunted(d, x, clock, bridge, misread, qd, w, qe, first, onset_l, blur_clock, base, attempts):
    """Log-likelihood of a splice that holds the line closed while it is wet, less a true count's; and the share lost.

    ``clock`` is the water drawn in wet hours since the onset [L]; the share is of that.
    """
    if first >= d.shape[0]:
        return 0.0, np.nan
    total = -1e300
    best = 0.0
    for scatter in (SOAKED, DAMP):
        rate, s = _fit(d, x, clock, bridge, qd, w, qe, first, onset_l, 0.0, blur_clock, True, scatter, attempts)
        if not math.isfinite(s):
            return 0.0, np.nan
        rate = min(max(rate, -SHUNT_TOP), 0.0)
        value = walk_on(
            d, x, clock, bridge, misread, qd, w, qe, first, onset_l, 0.0, blur_clock, 1.0, rate, scatter, base
        )
        value += math.log(min(ROOT_2PI * s / SHUNT_TOP, 1.0) + 1e-12)
        if value > total:
            best = -rate
        total = log_add(total, value)
    return total - LOG_2, best


@njit(cache=True)
def offset(d, x, bridge, misread, qd, w, qe, first, base):
    """Best log-likelihood of one constant offset from pair ``first`` on, less that of a true count.

    Returns it with Laplace's volume (to be multiplied by the density of the offset, in 1/L), and the offset.
    """
    n = d.shape[0]
    if first >= n:
        return 0.0, np.nan
    # The first look after the step stands for it; later ones sharpen it, and a misread one is distrusted.
    value = x[first] - d[first]
    s = np.inf
    for _ in range(3):
        a = 0.0
        b = 0.0
        for j in range(first, n):
            sd = noise_l(1.0, qd, w, qe, bridge[j])
            away = (x[j] - d[j] - value) / (3.0 * sd)
            weight = 1.0 / (sd * sd) / (1.0 + away * away)
            a += weight * (x[j] - d[j])
            b += weight
        value = a / b
        s = 1.0 / math.sqrt(b)
    total = 0.0
    for j in range(first, n):
        sd = noise_l(1.0, qd, w, qe, bridge[j])
        total += pair_density(x[j] - d[j] - value, sd, misread[j], spread_l(d[j], x[j], sd, qd + w)) - base[j]
    return total + math.log(ROOT_2PI * s), value


@njit(cache=True, inline="always")
def any_size(value, least_l, span_l):
    """Log density [1/L] of an offset of either sign whose size is log-uniform from one step to the dial's capacity."""
    size = max(abs(value), least_l)
    return math.log(0.5 / (size * max(math.log(span_l / least_l), 1.0)))


@njit(cache=True)
def capacity(d, x, bridge, misread, qd, w, qe, modulus):
    """Log-likelihood that the index lost whole turns of a smaller modulus, more of them as time goes on."""
    total = 0.0
    turns_before = 0.0
    for j in range(d.shape[0]):
        sd = noise_l(1.0, qd, w, qe, bridge[j])
        turns = max(np.round((d[j] - x[j]) / modulus), 0.0)
        cost = math.log(0.5) if turns != turns_before else math.log(0.9)
        turns_before = turns
        total += cost + pair_density(x[j] - d[j] + turns * modulus, sd, misread[j], spread_l(d[j], x[j], sd, qd + w))
    return total, turns_before


@njit(cache=True)
def stops(d, x, clock, bridge, misread, qd, w, qe, first, onset_l, blur_l, base, attempts):
    """Log-likelihood of a count that stops and resumes after an onset, less a true count's; and the mean ratio."""
    if first >= d.shape[0]:
        return 0.0, np.nan
    r, s = _fit(d, x, clock, bridge, qd, w, qe, first, onset_l, blur_l, 0.0, False, STOPPED, attempts)
    if not math.isfinite(s):
        return 0.0, np.nan
    r = min(max(r, 0.05), 0.985)
    last_d, last_x, last_bridge, blur = onset_l, onset_l, 0.0, (1.0 - r) * blur_l
    total = 0.0
    for j in range(first, d.shape[0]):
        dd, dx = d[j] - last_d, x[j] - last_x
        noise = noise_l(1.0, qd, w, qe, bridge[j])
        noise = math.sqrt(noise * noise + last_bridge * last_bridge)
        loose = STOPPED * (1.0 - r) * dd
        sd = math.sqrt(noise * noise + loose * loose + blur * blur)
        z = (dx - r * dd) / sd
        clear = (dx - dd) / noise
        good = (1.0 - CLEAN) * math.exp(-0.5 * min(z * z, 900.0)) / sd
        good = (1.0 - misread[j]) * (good + CLEAN * math.exp(-0.5 * min(clear * clear, 900.0)) / noise) / ROOT_2PI
        bad = misread[j] / spread_l(d[j], x[j], sd, qd + w)
        total += math.log(good + bad) - base[j]
        if good > bad:
            last_d, last_x, last_bridge, blur = d[j], x[j], bridge[j], 0.0
    return total + math.log(min(ROOT_2PI * s * share_density(r), 1.0) + 1e-12), r


@njit(cache=True)
def late(d, x, bridge, misread, qd, w, qe):
    """Log-likelihood that at some looks the index lags by what is not delivered yet, and at others has caught up."""
    total = 0.0
    for j in range(d.shape[0]):
        sd = noise_l(1.0, qd, w, qe, bridge[j])
        lag = d[j] - x[j]
        clean = math.exp(pair_density(-lag, sd, misread[j], spread_l(d[j], x[j], sd, qd + w)))
        behind = 1.0 / (abs(d[j]) + 4 * sd) if -2 * sd < lag < abs(d[j]) + 2 * sd else 0.0
        total += math.log(0.75 * clean + 0.25 * behind + 1e-30)
    return total
