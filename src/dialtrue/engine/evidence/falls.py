"""Falls of the index, and a first read that is not where the record says: turns, resets, two courses, a turned meter.

Every cause is asked for the density of what was seen: where the first read should stand, and where the index should
stand after each fall. An index that turns at 100,000 stands after the fall where the water since would have brought
it; one that was reset stands just above its start or above nothing; of a second course anything may be expected once.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from dialtrue.engine.evidence.step_density import near_density, step_density
from dialtrue.engine.scan_kernel import BACK_KEPT, DAY_US

TURNS = np.array([*(10.0**k for k in range(3, 10)), 2.0**16, 2.0**20, 2.0**24])
"""Moduli at which a counter may turn early: decimal digits, and 16, 20 and 24 bits. Source: powers; that such counters
are met is common practice, no source."""
BINARY_SHARE = 0.08
"""Share of each binary modulus among wrong digits. Our assumption."""
DECIMAL_SHARE = (0.45, 0.16, 0.06, 0.02)
"""Share of one, two, three and four digits too few. Our assumption: one digit is the usual slip."""
UNSEEN = 0.1
"""Weight of moduli that no read has come to: wrong digits that do no harm yet. Our assumption."""
GLITCH = 0.002
"""Share of sound ports with one absurd read. Our assumption."""
FLIPPED, LEAST_BIT, MOST_BIT = 0.3, 4, 24
"""Share of noise that is one bit of the counter, and which bits. Our assumption."""
ONE_WAY, MOST_ONE_WAY = 5, 25.0
"""Falls without a rise from which the index is taken to run backwards, and the most that they say [nat]. Our
assumption."""
SOUND, DIGITS, RESET, TWO_COURSES, REVERSED, NOISE, START, DECADE, LOUD = range(9)
CAUSES = 9


@njit(cache=True, nogil=True)
def turn_shares(capacity, shares):
    """Fill the share of each modulus in ``TURNS`` for a recorded capacity; what is not below it has none."""
    total = 0.0
    for k in range(TURNS.shape[0]):
        shares[k] = 0.0
        if TURNS[k] >= capacity:
            continue
        if k >= 7:
            shares[k] = BINARY_SHARE
        else:
            short = round(math.log10(capacity / TURNS[k]))
            shares[k] = DECIMAL_SHARE[short - 1] if 1 <= short <= 4 else 0.005
        total += shares[k]
    return total


@njit(cache=True, nogil=True)
def own_start_density(first, start, capacity, expected):
    """Return the density of a first read where the index began at its keyed start [1/count]."""
    gap = first - start
    if gap < 0.0 and gap + capacity < 0.5 * capacity:
        gap += capacity
    if gap < 0.0:
        return 1e-3 * near_density(-gap, expected)
    return step_density(gap, expected)


@njit(cache=True, nogil=True)
def _scaled_start(first, start, expected):
    """Density of a first read at the start times a power of ten: the resolution is not the record's."""
    total = 0.0
    for power in range(-3, 4):
        if power != 0 and start >= 10.0:
            total += step_density(first - math.floor(start * 10.0**power), expected) / 6.0
    return total


@njit(cache=True, nogil=True)
def _slipped_start(first, start, expected, capacity):
    """Density of a first read at a start with one wrong figure or two exchanged ones."""
    total = 0.0
    places = max(int(math.log10(max(start, 10.0))) + 1, 2)
    for p in range(places):
        for k in range(1, 10):
            for sign in (-1.0, 1.0):
                total += 0.7 * step_density(first - start - sign * k * 10.0**p, expected) / (18.0 * places)
                total += 0.3 * step_density(first - start - sign * 9.0 * k * 10.0**p, expected) / (18.0 * places)
    return total


@njit(cache=True, nogil=True)
def weigh_first(first, start, capacity, expected, out):
    """Add each cause's log density of the first read, given the keyed start."""
    anywhere = 1.0 / capacity
    own = own_start_density(first, start, capacity, expected)
    sound = own + 1e-4 * anywhere
    for c in range(CAUSES):
        out[c] = math.log(sound)
    if own > 3e-3 * anywhere and own > 1e-9:
        out[START] = math.log(0.9 * own + 0.1 * anywhere)
        return
    gap = first - start
    # A wrong weight multiplies the water since the fitting; induced counts may be anything.
    if gap >= 0.0:
        multiplied = 0.5 * own
        for power in range(1, 4):
            multiplied += 0.15 * step_density(gap, expected * 10.0**power)
        out[DECADE] = math.log(multiplied + 1e-4 * anywhere)
        out[LOUD] = math.log(0.5 * sound + 0.5 / ((gap + 1.0) * math.log(capacity)))
    zero = near_density(first, expected)
    scaled = _scaled_start(first, start, expected)
    slipped = _slipped_start(first, start, expected, capacity)
    out[START] = math.log(0.9 * sound + 0.1 * (0.3 * slipped + 0.2 * zero + 0.1 * scaled + 0.4 * anywhere))
    out[DECADE] = math.log(0.98 * math.exp(out[DECADE]) + 0.02 * scaled)
    out[RESET] = math.log(0.95 * sound + 0.03 * zero + 0.02 * anywhere)
    out[TWO_COURSES] = math.log(0.6 * sound + 0.4 * anywhere)
    out[NOISE] = math.log(0.8 * sound + 0.2 * anywhere)
    out[REVERSED] = math.log(sound + 0.3 * near_density(start - first, expected))


@njit(cache=True, nogil=True)
def _stored_density(fall, pace_day):
    """Density of a fall to a value stored an hour, a day, at the most some weeks before [1/count]."""
    e = max(pace_day, 1.0)
    return 0.75 * math.exp(-fall / e) / e + 0.25 * math.exp(-fall / (7.0 * e)) / (7.0 * e)


@njit(cache=True, nogil=True)
def _stood_before(day_walk, start_us, at_us, first):
    """Return the count at the end of the last day read before the one of a moment, and that end; nan if none."""
    day = min((at_us - start_us) // DAY_US, day_walk.shape[0]) - 1
    while day >= 0:
        if not np.isnan(day_walk[day]):
            return first + day_walk[day], float(start_us + (day + 1) * DAY_US)
        day -= 1
    return np.nan, 0.0


@njit(cache=True, nogil=True)
def _stands_after(day_walk, start_us, at_us, first):
    """Return the count at the end of the next day read after the one of a moment, and that end; nan if none."""
    day = (at_us - start_us) // DAY_US + 1
    while 0 <= day < day_walk.shape[0]:
        if not np.isnan(day_walk[day]):
            return first + day_walk[day], float(start_us + (day + 1) * DAY_US)
        day += 1
    return np.nan, 0.0


@njit(cache=True, nogil=True)
def weigh_falls(
    reads, first, first_expected, start, last, last_us, capacity, grain, pace_day, back, backs, back_total, over,
    walk, day_walk, start_us, shares, out,
):  # fmt: skip
    """Fill one port's log-likelihoods by cause; returns the modulus that fits best, 0 where none."""
    anywhere = 1.0 / capacity
    if start >= 0.0:
        weigh_first(first, start, capacity, first_expected, out)
    else:
        out[:] = 0.0
    base = out[SOUND]
    kept = min(backs, BACK_KEPT)
    reset, courses, noise, reverse, glitch, rose, jumps = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    falls = 0
    top = max(first, last)
    turned = np.zeros(TURNS.shape[0])
    before_us, lower, upper_us, upper = -1.0, 0.0, -1.0, 0.0
    for i in range(kept):
        span = (back[i, 1] - back[i, 0]) / DAY_US
        before, after = float(back[i, 2]), float(back[i, 3])
        top = max(top, before)
        fall = before - after
        if fall <= 2.0 * grain + 2.0:
            continue
        falls += 1
        due = pace_day * span + grain
        for k in range(TURNS.shape[0]):
            turned[k] += math.log(step_density(after + TURNS[k] - before, due) + 1e-12 * anywhere)
        to_zero = near_density(after, due)
        to_start = near_density(after - start, due) if start >= 0.0 else 0.0
        to_stored = _stored_density(fall, pace_day + grain)
        reset += math.log(0.3 * to_zero + 0.3 * to_start + 0.35 * to_stored + 0.05 * anywhere)
        wild = 0.5 * anywhere + 0.5 / (fall * math.log(capacity))
        # A memory that fails changes one bit: a power of two, less what was used meanwhile.
        for k in range(LEAST_BIT, MOST_BIT):
            wild += FLIPPED / (MOST_BIT - LEAST_BIT) * step_density(2.0**k - fall, due)
        noise += math.log(wild)
        reverse += math.log(step_density(fall, due) + 1e-6 * anywhere)
        # An absurd read stands alone: what comes after goes on from what came before it.
        stood, stood_us = _stood_before(day_walk, start_us, back[i, 0], first)
        stands, stands_us = _stands_after(day_walk, start_us, back[i, 1], first)
        usual, high, goes_on, returns = anywhere, 0.0, 1.0, 0.1
        if not np.isnan(stands):
            goes_on = step_density(stands - after, pace_day * (stands_us - back[i, 1]) / DAY_US + grain)
            returns = step_density(stands - before, pace_day * (stands_us - back[i, 0]) / DAY_US + grain)
        if not np.isnan(stood):
            usual = step_density(before - stood, pace_day * max((back[i, 0] - stood_us) / DAY_US, 0.0) + grain)
            if before > stood:
                high = 0.5 * anywhere + 0.5 / ((before - stood + 1.0) * math.log(capacity))
                high *= step_density(after - stood, pace_day * max((back[i, 1] - stood_us) / DAY_US, 0.0) + grain)
        tiny = 1e-9 * anywhere
        rose += math.log(usual + tiny) + math.log(goes_on + tiny)
        glitch += math.log(0.5 * high * goes_on + 0.5 * usual * wild * returns + tiny * tiny)
        jumps += math.log(usual + tiny) + math.log(0.5 * goes_on + 0.5 * returns + tiny)
        if before_us >= 0.0:
            again = step_density(after - lower, pace_day * (back[i, 1] - before_us) / DAY_US + grain)
            # Between two falls a second course must have leapt up to where the first one has come.
            up = step_density(before - upper, pace_day * (back[i, 0] - upper_us) / DAY_US + grain)
            courses += math.log(0.9 * again + 0.1 * anywhere)
            courses += math.log(0.9 * up + 0.1 * anywhere) - math.log(usual + tiny)
        else:
            courses += math.log(anywhere)
        before_us, lower, upper_us, upper = float(back[i, 1]), after, float(back[i, 0]), before
    best, modulus = -1e300, 0.0
    # Turned: since the first fall next to nothing goes forward.
    onward, gentle = 0.0, False
    if backs > 0:
        stood, _ = _stood_before(day_walk, start_us, back[0, 0], 0.0)
        onward = walk - (0.0 if np.isnan(stood) else stood) - back_total
        since = max((last_us - back[0, 0]) / DAY_US, 1.0)
        gentle = -back_total <= 4.0 * pace_day * since + 4.0 * grain * backs
    turned_round = backs >= ONE_WAY and onward <= 0.15 * -back_total + pace_day + 2.0 * grain and gentle
    if falls == 0:
        out[RESET] += math.log(0.03)
        out[REVERSED] += math.log(0.45)
        out[TWO_COURSES] += math.log(0.6)
    else:
        more = float(max(backs - kept, 0))
        # Leaps up beside the falls belong to a second course or to noise, not to a reset or a turn.
        leaps = -5.0 if over > 0 else 0.0
        # A turn comes when the counter is full; a reset, a glitch or noise may come at any read.
        when = -math.log(max(reads - 1.0, 1.0))
        again = falls - 1.0 + more
        out[RESET] += reset + rose + leaps + math.log(0.7) + when + again * (when + math.log(0.3))
        out[NOISE] += noise + jumps + when * falls + math.log(0.5 if again > 0 else 0.15)
        out[TWO_COURSES] += courses + jumps + when + math.log(0.03 if backs < 2 else 0.3)
        glitch += math.log(GLITCH) + when * falls - 4.0 * again
        base += glitch
        out[SOUND] = base
        out[START] += glitch
        out[DECADE] += glitch
        out[LOUD] += glitch
        if onward <= 0.15 * -back_total + pace_day + 2.0 * grain and gentle:
            out[REVERSED] += reverse + jumps + when + math.log(0.5)
        else:
            out[REVERSED] += noise + jumps + when * falls + math.log(1e-4)
        turned += rose + leaps
    digits = 0.0
    total = turn_shares(capacity, shares)
    for k in range(TURNS.shape[0]):
        if shares[k] <= 0.0 or top >= TURNS[k]:
            continue
        value = 0.0
        if start >= TURNS[k]:
            value = math.log(step_density(first - start % TURNS[k], first_expected) + 1e-12 * anywhere)
        elif start >= 0.0:
            value = math.log(own_start_density(first, start, TURNS[k], first_expected) + 1e-4 * anywhere)
        seen = falls > 0 or start >= TURNS[k]
        value += turned[k] + math.log(shares[k] / total) + (0.0 if seen else math.log(UNSEEN))
        if value > best:
            best = value
            modulus = TURNS[k] if seen else 0.0
        digits += math.exp(max(value, -700.0))
    one_way = min((backs - 1.0) * math.log(2.0), MOST_ONE_WAY) if turned_round else 0.0
    if turned_round:
        # Whatever else makes an index fall lets it rise as often: so many falls in a row are a coin's that always
        # shows the same side.
        for c in range(CAUSES):
            if c != REVERSED:
                out[c] -= one_way
    out[DIGITS] = math.log(digits + 1e-4 * math.exp(max(base, -690.0)) + 1e-300) - one_way
    return modulus


@njit(cache=True, nogil=True)
def weigh_all(
    reads, figures_first, first_expected, start, figures_last, last_us, capacity, grain, pace_day, back, backs,
    back_total, over, walk, day_walk, start_us, out, modulus,
):  # fmt: skip
    """Run ``weigh_falls`` over the fleet."""
    shares = np.zeros(TURNS.shape[0])
    for f in range(reads.shape[0]):
        if reads[f] > 0:
            modulus[f] = weigh_falls(
                reads[f], figures_first[f], first_expected[f], start[f], figures_last[f], last_us[f], capacity[f],
                grain[f], pace_day[f], back[f], backs[f], back_total[f], over[f], walk[f], day_walk[f], start_us,
                shares, out[f],
            )  # fmt: skip
