"""The stamps of reads against the town's, the start and the looks: a clock wrong by an hour, by half a day, by days.

Reads of one programme end together, and a port that is heard once a day is mostly heard at one time of day. A clock
that is fast stamps its last reads with times that nobody else has heard yet; one that is slow ends early, and has
counted at its first read what nobody can have drawn since the fitting. The dial, whose time is right, is off by what
was drawn in between, now as later.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln, logsumexp

from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.evidence.pauses import Pace
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.onsets import SPANS, Onsets
from dialtrue.engine.pairing import look_step_l
from dialtrue.engine.scan_kernel import DAY_US, HOUR_US

TOWN_PORTS = 60
"""Ports from which a town's stamps can be told. Our assumption."""
STRAGGLERS = 0.03
"""Share of ports whose reads stop before the others': half at any time, half by gaps of any length, short ones more
often. Our assumption."""
LATE_START = 0.1
"""Share of fittings whose start was read before the last draw, which looks like a small error of the clock. Our
assumption."""
AFTER_ALL, AFTER_ALL_H = 1e-4, 48.0
"""Share of ports heard later than all others although their clock is right, and how much later [h]. Our assumption: a
second export."""
LAST_OF_ALL = 0.995
"""Part of the ports after whose last reads nothing more is expected. Our assumption."""
ANY_TIME = 0.15
"""Share of daily ports that are heard at any time of day. Our assumption."""
BY_THE_HOUR, BY_THE_MINUTE = (0.4,), (0.4, 0.03)
"""Half the widths within which stamps are the same [h]: hourly reads all come at the hour; towns that are read once a
day keep to the minute or do not. Our assumption."""
ERRORS_H = np.array([h * sign for h in (*range(1, 13), 24, 48, 72) for sign in (-1, 1)], float)
"""Errors of a clock that are thought of, fast is positive [h]. Our assumption: whole hours to twelve, whole days."""
BY_HOURS = {1: 0.3, 12: 0.1, 24: 0.1}
"""Share of wrong clocks by the size of their error, where reads come within the day [h]. Our assumption."""
ZONE_SHARE = 0.25
"""Share of wrong clocks that are off by the zone's offset: local time taken for UTC or the reverse. Our assumption."""
BY_DAYS = {12: 0.25, 24: 0.3, 48: 0.15, 72: 0.15}
"""The same where reads are a day or more apart: less would be seen by nobody [h]. Our assumption."""
DAY_SCATTER, SEASON = 1.0, 0.3
"""Shape of the gamma volume of one day, and spread of a week's pace about the mean [nat]. Our assumption."""
FITTERS_DRAW = 0.05
"""Share of fittings at which any amount was drawn at once: a purge, a proof. Our assumption."""
MOST_NAT = 12.0
"""Most that one kind of stamp says [nat]. Our assumption: exports have habits of their own."""

Rows = NDArray[np.bool_]


def error_shares(zone_h: list[int], *, daily: bool) -> Floats:
    """Return the share of each of ``ERRORS_H`` among wrong clocks, (m,); they sum to 1.

    ``zone_h`` are the offsets of the zone from UTC in the time watched [h].
    """
    named: dict[int, float] = dict(BY_DAYS if daily else BY_HOURS)
    if not daily:
        offsets = {abs(h) for h in zone_h} - {0}
        for h in offsets:
            named[h] = named.get(h, 0.0) + ZONE_SHARE / len(offsets)
    share = np.full(len(ERRORS_H), (1.0 - sum(named.values())) / len(ERRORS_H))
    for h, part in named.items():
        share[np.abs(ERRORS_H) == h] += part / 2.0
    return share / share.sum()


def zone_offsets(hour_local: NDArray[np.int8]) -> list[int]:
    """Return the zone's offsets from UTC in the time watched [h], from the local hour of each hour."""
    off = np.mod(hour_local[::24].astype(int), 24)
    return sorted({int(h) - 24 if h > 12 else int(h) for h in off})


def density(at: Floats, town: Floats, widths: tuple[float, ...], *, own: bool, turns: float = 1.0) -> Floats:
    """Return how densely a town's values [h] lie about each place, one's own left out. [1/h]

    ``town`` is sorted, and laid out ``turns`` times; ``widths`` are averaged over.
    """
    total = np.zeros(len(at))
    for width in widths:
        count = np.searchsorted(town, at + width, "right") - np.searchsorted(town, at - width, "left")
        total += np.maximum(count - float(own), 0.0) / (2.0 * width) / len(widths)
    out: Floats = total / (len(town) / turns)
    return out


def last_reads(case: Case, rows: Rows, widths: tuple[float, ...]) -> Floats:
    """Weigh where the last read stands among the town's last reads, for each error of the clock; (n, m) [nat].

    Source
    ------
    Definition: the density of last reads, taken from the other ports, as the port's stands and as it would stand set
    right. 0 where the town is too small or the port was removed.
    """
    figures, n = case.scan.figures, case.fleet.size
    gain = np.zeros((n, len(ERRORS_H)), np.float32)
    if not rows.any():
        return gain
    last = figures["last_us"] / HOUR_US
    stands = (case.end_us == case.end_us.max()) & (figures["n"] >= 3)
    if stands.sum() < TOWN_PORTS:
        return gain
    town = np.sort(last[stands])
    window = max(float(town[-1]) - case.scan.calendar.start_us / HOUR_US, 24.0)
    end = float(np.quantile(town, LAST_OF_ALL)) + widths[0]
    beyond = AFTER_ALL / AFTER_ALL_H

    def seen(at: Floats, own: bool) -> Floats:
        gap = np.maximum(end - at, 1.0)
        stray = 0.5 * STRAGGLERS * (1.0 / window + 1.0 / (gap * np.log(window)))
        return np.where(at <= end, density(at, town, widths, own=own) + stray, beyond)

    taken = stands & rows
    mine = last[taken]
    # The others of one wrong clock lie together too: what lies beyond the end is not taken as usual.
    plain = np.log(seen(mine, True))
    for k, error in enumerate(ERRORS_H):
        gain[taken, k] = np.clip(np.log(seen(mine - error, False)) - plain, -MOST_NAT, MOST_NAT)
    return gain


def times_of_day(case: Case, rows: Rows) -> Floats:
    """Weigh how the time of day moved from the first read to the last, beside the town's; (n, m) [nat].

    Source
    ------
    Definition, as for the last reads. It shows a clock that went wrong in between; whole days do not show.
    """
    figures, n = case.scan.figures, case.fleet.size
    gain = np.zeros((n, len(ERRORS_H)), np.float32)
    if rows.sum() < TOWN_PORTS:
        return gain
    mine = np.mod((figures["last_us"] - figures["first_us"])[rows] / HOUR_US, 24.0)
    # The day is a ring: its ends are laid on once more.
    town = np.sort(np.concatenate((mine, mine - 24.0, mine + 24.0)))
    plain = np.log(density(mine, town, BY_THE_MINUTE, own=True, turns=3.0) + ANY_TIME / 24.0)
    for k, error in enumerate(ERRORS_H):
        moved = density(np.mod(mine - error, 24.0), town, BY_THE_MINUTE, own=False, turns=3.0) + ANY_TIME / 24.0
        gain[rows, k] = np.clip(np.log(moved) - plain, -MOST_NAT, MOST_NAT)
    return gain


def _gamma_log(volume: Floats, mean: Floats, days: Floats) -> Floats:
    """Return the log density of a volume over some days about its mean, the season's spread in it; (n,)."""
    shape = 1.0 / (1.0 / (DAY_SCATTER * np.maximum(days, 0.05)) + SEASON**2)
    ratio = np.maximum(volume, 0.02 * mean) / mean
    return shape * np.log(shape) - gammaln(shape) + (shape - 1.0) * np.log(ratio) - shape * ratio - np.log(mean)


def first_reads(case: Case, pace: Pace) -> Floats:
    """Weigh what was counted from the fitting to the first read after it, for each error of the clock; (n, m) [nat].

    Source
    ------
    A slow clock's first read counts what was drawn until its own later hour. Gamma volume at the port's own pace, our
    assumption.
    """
    fleet, figures, n = case.fleet, case.scan.figures, case.fleet.size
    gain = np.zeros((n, len(ERRORS_H)), np.float32)
    days = (figures["first_us"] - fleet.fit_us) / DAY_US
    weight = np.nan_to_num(fleet.weight_set_l, nan=0.0)
    known = (fleet.start_count >= 0) & (case.pairs.start_broken == 0) & (days >= 0) & (days < 8.0)
    known &= (weight > 0) & (figures["n"] >= 10) & (case.pairs.start_gap >= 0)
    if not known.any():
        return gain
    volume = case.pairs.start_gap[known] * fleet.quantum_index_l[known] + 0.5 * weight[known]
    a_day = pace.mean_per_day[known] * weight[known]
    least = 0.02
    broad = np.log(FITTERS_DRAW) - np.log(volume * np.log(1e4))

    def said(over: Floats) -> Floats:
        over = np.maximum(over, least)
        mean = a_day * over + weight[known]
        return np.logaddexp(np.log(1.0 - FITTERS_DRAW) + _gamma_log(volume, mean, over), broad)

    plain = said(days[known])
    for k, error in enumerate(ERRORS_H):
        gain[known, k] = np.clip(said(days[known] - error / 24.0) - plain, -MOST_NAT, MOST_NAT)
    return gain


def looks_meanwhile(case: Case, onsets: Onsets, rows: Ints) -> Floats:
    """Weigh the looks at the dial: a fast clock shows the index of an earlier hour; (r, 1 + SPANS, m) [nat].

    Source
    ------
    Index less dial is what was drawn in the clock's error, at the port's mean pace; Gaussian with a day's and a
    season's scatter (our assumption). A look counts for every onset before it.
    """
    fleet, pairs = case.fleet, case.pairs
    gain = np.zeros((len(rows), 1 + SPANS, len(ERRORS_H)))
    place = np.full(fleet.size, -1, np.int64)
    place[rows] = np.arange(len(rows))
    seen = (pairs.usable == 1) & (pairs.odd == 0) & (pairs.anchored[pairs.fitting] == 1) & (place[pairs.fitting] >= 0)
    j = np.flatnonzero(seen)
    if not len(j):
        return gain
    f = pairs.fitting[j]
    apart = pairs.index_l[j] - pairs.dial_l[j]
    noise = np.hypot(look_step_l(fleet)[f], pairs.bridge_l[j]) + 1e-6
    wide = np.maximum(2.0 * (np.abs(pairs.index_l[j]) + np.abs(pairs.dial_l[j])), 60.0 * noise)
    wrong = pairs.misread[j] / wide
    a_day = np.abs(onsets.rate_l_day[f])
    # The span of a look: it speaks of onsets in that span and before.
    span = (pairs.at_us[j][:, None] > onsets.at_us[f]).sum(axis=1) - 1
    fine = span >= 0

    def said(mean: Floats, spread: Floats) -> Floats:
        sd = np.hypot(noise, spread)
        good = np.exp(-0.5 * np.minimum(((apart - mean) / sd) ** 2, 1200.0)) / (sd * np.sqrt(2.0 * np.pi))
        out: Floats = np.log((1.0 - pairs.misread[j]) * good + wrong)
        return out

    plain = said(case.start_lag_l[f], np.zeros(len(j)))
    for k, error in enumerate(ERRORS_H):
        days = abs(error) / 24.0
        mean = -np.sign(error) * days * a_day
        more = said(mean, np.abs(mean) * np.sqrt(1.0 / (DAY_SCATTER * days) + SEASON**2)) - plain
        np.add.at(gain[:, :, k], (place[f[fine]], span[fine]), more[fine])
    out: Floats = np.cumsum(gain[:, ::-1, :], axis=1)[:, ::-1, :]
    return out


@dataclass(slots=True)
class Stamped:
    """What stamps say of a wrong clock.

    ``at_onset`` (n, 1 + SPANS) against a right one [nat]; ``error_h`` (n,) the likeliest error, fast is positive [h];
    ``best`` (n,) the most that any onset says.
    """

    at_onset: Floats
    error_h: Floats
    best: Floats


def weigh_stamps(case: Case, onsets: Onsets, pace: Pace) -> Stamped:
    """Weigh all that stamps say of a clock that is wrong from each onset on to the end. Never raises.

    Source
    ------
    Bayes' rule over the errors of a clock; see the parts.
    """
    figures, n = case.scan.figures, case.fleet.size
    step_h = figures["step_us_total"] / np.maximum(figures["n"] - 1, 1) / HOUR_US
    heard = figures["n"] >= 3
    quick, daily = heard & (step_h < 8.0), heard & (step_h >= 8.0) & (step_h < 60.0)
    zone = zone_offsets(case.scan.calendar.hour_local)
    share = np.where(daily[:, None], error_shares(zone, daily=True), error_shares(zone, daily=False))
    with np.errstate(divide="ignore"):
        ended = np.log(share) + last_reads(case, quick, BY_THE_HOUR) + last_reads(case, daily, BY_THE_MINUTE)
    first, later = ended + first_reads(case, pace), ended + times_of_day(case, daily)
    out = np.zeros((n, 1 + SPANS))
    told = quick | daily
    out[:, 0] = np.where(told, logsumexp(first, axis=1), 0.0)
    out[:, 1:] = np.where(told, logsumexp(later, axis=1), 0.0)[:, None]
    error = ERRORS_H[np.argmax(np.where((out[:, 0] >= out[:, 1])[:, None], first, later), axis=1)]
    last = case.pairs.last_rows()
    pick = np.maximum(last, 0)
    looked = np.zeros(n, bool)
    if len(case.pairs.at_us):
        noise = np.hypot(look_step_l(case.fleet), case.pairs.bridge_l[pick])
        looked = (last >= 0) & (np.abs(case.pairs.index_l[pick] - case.pairs.dial_l[pick]) > 3.0 * noise)
    rows = np.flatnonzero(told & (last >= 0) & (looked | (out.max(axis=1) > 1.0)))
    if len(rows):
        looks = looks_meanwhile(case, onsets, rows)
        both = np.concatenate((first[rows][:, None, :], np.repeat(later[rows][:, None, :], SPANS, axis=1)), axis=1)
        both += looks
        both += np.where(case.start_lag_l[rows] != 0.0, -np.log(LATE_START), 0.0)[:, None, None]
        out[rows] = logsumexp(both, axis=2)
        error[rows] = ERRORS_H[np.argmax(both.max(axis=1), axis=1)]
    return Stamped(out, error, out.max(axis=1, initial=-np.inf))
