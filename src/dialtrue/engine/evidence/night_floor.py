"""Evidence of still hours: water that never stops, or counts that no tap makes, leave few of them or none."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.evidence_picture import EvidencePicture, Mark, Series, moments
from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.evidence.night_share import (
    ADDED,
    NIGHT_HOURS,
    SHARES,
    quiet_hours,
    sum_nights,
    usual_shares,
    weigh_nights,
)
from dialtrue.engine.evidence.pauses import grain_of
from dialtrue.engine.evidence.still_hours import RANDOM, STEADY, USE, fill_volumes, sum_days, weigh_still_hours
from dialtrue.engine.evidence.town_days import day_spans
from dialtrue.engine.fleet import Floats
from dialtrue.engine.onsets import SPANS, Onsets
from dialtrue.engine.parts import over_parts
from dialtrue.engine.scan_kernel import DAY_US, PERIOD_DAYS

LASTING = {
    "customer_leak": (STEADY, STEADY, STEADY, RANDOM),
    "steady_counts": (STEADY, RANDOM),
    "backflow_counted": (RANDOM,),
}
"""Causes that count in every hour, and the laws they may follow, one as likely as another: leaking water comes at a
steady rate, or now and then where a cistern refills; induced counts by a clock of their own (a transmission, an
oscillation) or at random; rocking at random."""
COUNTED_TWICE = ("steady_counts", "backflow_counted")
"""Causes of which ``excess`` reads the same hours once more, where looks prove a surplus."""
IN_SOME_HOURS = 0.35
"""Share of those that count in some hours of the day only. Our assumption."""
RESTLESS_SHARE = 0.02
"""Share of places of a cubic metre a day at the most that draw in every hour of every day without a leak. Our
assumption; larger places more often."""


def day_volumes(case: Case) -> Floats:
    """Return pulses of each day that has a read of its own and one on the day before, nan elsewhere; (n, days)."""
    walk, grain = case.scan.day_walk, grain_of(case)
    out = np.empty(walk.shape)
    over_parts(len(walk), lambda begin, end: fill_volumes(walk, grain, out, begin, end))
    return out


def night_evidence(case: Case, onsets: Onsets) -> Floats:
    """Return (n, 1 + SPANS) what the hours of the day say for water without pause from each onset on [nat]."""
    scan, n = case.scan, case.fleet.size
    moves = scan.hour_moves
    quiet = quiet_hours(moves.sum(axis=1).astype(float), scan.hour_steps.sum(axis=1).astype(float))
    night, total = np.zeros(moves.shape[:2]), np.zeros(moves.shape[:2])
    over_parts(n, lambda begin, end: sum_nights(moves, quiet, night, total, begin, end))
    out = np.zeros((n, 1 + SPANS))
    log_share = usual_shares(night.sum(axis=1), total.sum(axis=1))
    since = (onsets.at_us - scan.calendar.start_us) / (PERIOD_DAYS * DAY_US)
    since[:, 0] = 0.0
    period = np.clip(np.rint(since), 0, night.shape[1]).astype(np.int64)
    data = (night, total, NIGHT_HOURS / 24.0, log_share, SHARES, ADDED, out, period)
    over_parts(n, lambda begin, end: weigh_nights(*data, begin, end))
    return out


def _either(told: Floats, laws: tuple[int, ...]) -> Floats:
    """Return the log of the mean of the laws' likelihoods, one as likely as another."""
    either = told[laws[0]]
    for law in laws[1:]:
        either = np.logaddexp(either, told[law])
    return either - np.log(len(laws))


def weigh(case: Case, onsets: Onsets) -> Block:
    """Weigh still hours by day and counts at night.

    Still hours are set against the volume: a leak of r pulses an hour leaves 1 - r of them. A port whose pulses are few
    shows it in where they fall, for a leak's fall in the night as often as in the day.

    Source
    ------
    ``still_hours`` and ``night_share``; that a leak's tell is the hour without pause is common practice (``EPA-LEAK``
    gives 90 gal a day as worth a word).
    """
    scan, n = case.scan, case.fleet.size
    volume = day_volumes(case)
    told = np.zeros((3, n, 1 + SPANS))
    gain, left = np.zeros(n), np.full(n, np.nan)
    window = np.full((n, 2), -1, np.int64)
    span = day_spans(np.full(n, scan.calendar.start_us), onsets, volume.shape[1])
    data = (scan.day_zero, scan.day_steps, volume, span, SPANS, told, gain, left, window)
    over_parts(n, lambda begin, end: weigh_still_hours(*data, begin, end))
    nights = night_evidence(case, onsets)
    sums = np.zeros((n, 5))
    days = (scan.day_steps, scan.day_zero, scan.day_least, volume, sums)
    over_parts(n, lambda begin, end: sum_days(*days, begin, end))
    seen_days, full_days = sums[:, 0], sums[:, 1]
    # From the first day on no hour without a count: some places never rest, the more so the larger they are.
    use_l_day = np.maximum(sums[:, 3], 0.0) / np.maximum(sums[:, 2], 1)
    use_l_day = use_l_day * np.maximum(np.nan_to_num(case.fleet.weight_set_l), case.fleet.quantum_index_l)
    restless = np.clip(RESTLESS_SHARE * (use_l_day / 1000.0) ** 0.7, RESTLESS_SHARE, 0.5)
    always = (seen_days >= 10) & (full_days > 0.9 * seen_days)
    nights[:, 0] = np.where(always, np.maximum(nights[:, 0], -np.log(restless)), nights[:, 0])
    floor = sums[:, 4] * case.fleet.quantum_index_l

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        said: dict[str, Figure] = {
            "days_without_a_still_hour": int(full_days[row]), "of_days": int(seen_days[row]),
            "night_counts_nat": round(float(nights[row].max()), 1),
        }  # fmt: skip
        if gain[row] > 2.0:
            said["still_hours_left_share"] = round(float(left[row]), 3)
            said["still_hours_nat"] = round(float(gain[row]), 1)
        if full_days[row]:
            said["least_hour_l"] = round(float(floor[row]), 2)
        if gain[row] > 2.0 or nights[row].max() > 2.0:
            return "Counts came in hours that were still before, nights included.", said
        return "Still hours are as they always were.", said

    block = Block.blank("night floor", n, says)
    for code, laws in LASTING.items():
        value = _either(told, laws) + nights
        if code in COUNTED_TWICE:
            # Those of a machine, or of water that runs back for some hours, leave the other hours still.
            value = np.logaddexp(value + np.log(1.0 - IN_SOME_HOURS), np.log(IN_SOME_HOURS))
        block.at_onset[code] = value.astype(np.float32)
    case.notes.nights_nat = np.max([block.at_onset[code].max(axis=1) for code in COUNTED_TWICE], axis=0)
    block.at_onset["use_change"] = told[USE].astype(np.float32)
    begin = np.where(window[:, 0] >= 0, scan.calendar.start_us + window[:, 0] * DAY_US, 0)
    for code in LASTING:
        block.since_us[:, COLUMN[code]] = np.where(gain > 3.0, begin, 0)
    case.notes.floor_l_h = np.where(gain + nights.max(axis=1) > 2.0, floor, np.nan)
    return block


def picture(case: Case, row: int) -> EvidencePicture | None:
    """Return the hours without a count day by day, None where no hours were heard.

    Parameters
    ----------
    case : Case
    row : int
        The fitting's row.

    Returns
    -------
    EvidencePicture or None

    Raises
    ------
    Never raises.

    Source
    ------
    The figures of ``weigh``.
    """
    heard = case.scan.day_steps[row]
    seen = np.flatnonzero(heard >= 12)
    if not len(seen):
        return None
    still = case.scan.day_zero[row, seen] * 24.0 / heard[seen]
    when = moments(int(case.scan.calendar.start_us + day * DAY_US + DAY_US // 2) for day in seen)
    full = int((still == 0).sum())
    caption = (
        f"On {full} of {len(seen)} days no hour passed without a count; on the median day {np.median(still):.0f} did."
    )
    bars = Series("still hours of the day", "h", when, tuple(float(v) for v in still))
    return EvidencePicture(
        "Still hours", "bars", (bars,), caption, marks=(Mark("none still", "level", "limit", 0.0),), zero=True
    )
