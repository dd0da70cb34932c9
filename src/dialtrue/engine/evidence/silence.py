"""Evidence of standstills: an index that stops for good, one that stops and resumes, one that stops and catches up."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.evidence_picture import EvidencePicture, Mark, Series, moments
from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.evidence.pauses import Pace, negative_binomial, pace_of
from dialtrue.engine.evidence.standstill_causes import dial_meanwhile, dial_stood_too, find_standstills, weigh_causes
from dialtrue.engine.fleet import Floats
from dialtrue.engine.onsets import Onsets
from dialtrue.engine.scan_kernel import DAY_US

FLAGGED_SHARE = 0.35
"""Share of repeated indexes that the delivery marks as repeated. Our assumption."""
BAD_SPELL, SPELL_SHARE, MARKING_TOWN = 0.03, 0.015, 0.1
"""Share of sound ports whose delivery had a bad spell and filled its holes with marked repeats, the share of reads that
such a spell fills on average, and the share of ports with marks from which filling is a habit. Our assumption."""
CALM_SHARE, CALM_PORTS = 0.002, 20
"""Share of reads that any delivery marks as repeated, and the ports' worth of trust in it. Our assumption."""
STRANGE_STILL = 0.03
"""Chance that a wrong or second register stands still for good: that of a compound's high side, say. Our assumption."""


def weigh(case: Case, onsets: Onsets) -> Block:
    """Weigh standstills against the port's own pace (or its history, where it never moved).

    A standstill that the dial shares is a matter of the pairs; without a look at the dial an empty house and a dead
    input differ by base rates alone, and stay so.

    Source
    ------
    ``standstill_causes`` and ``pauses``; the tell of each cause (it catches up, it never does) is common practice.
    """
    figures, n = case.scan.figures, case.fleet.size
    pace, stills = pace_of(case), find_standstills(case)
    causes = weigh_causes(case, onsets, stills, pace)
    caught = stills.known & (causes.catch_up > 2.0)
    any_caught = caught.any(axis=1)
    longest = np.where(stills.known[:, 0], stills.length[:, 0], 0.0)

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        said: dict[str, Figure] = {
            "still_at_end_days": round(float(stills.open_days[row]), 2),
            "longest_still_days": round(float(longest[row]), 2),
            "expected_pulses_a_day": round(float(pace.per_day[row]), 2),
        }  # fmt: skip
        if stills.never[row]:
            return "The index has never moved since the fitting.", said
        if any_caught[row]:
            which = int(np.argmax(np.where(caught[row], causes.catch_up[row], -np.inf)))
            said["catch_up_l"] = round(float(stills.pulses[row, which] * case.fleet.weight_set_l[row]), 1)
            said["stood_still_days"] = round(float(stills.length[row, which]), 2)
            return "The index stood still, then caught up in one step.", said
        if causes.by_onset["dead_input"][row].max() > 1.0:
            return "The index has stopped and has not resumed.", said
        if causes.by_onset["intermittent"][row].max() > 1.0:
            return "The index stood still and went on without catching up.", said
        return "No standstill longer than this place's own pauses.", said

    block = Block.blank("standstill", n, says)
    stood = dial_stood_too(*dial_meanwhile(case, onsets), case, pace)
    dead = causes.by_onset["dead_input"] + stood[:, None]
    stale = np.logaddexp(
        causes.by_onset["stale_index"] + np.log(1 - FLAGGED_SHARE),
        (np.log(FLAGGED_SHARE) + marks_gain(case, pace))[:, None],
    )
    for code, value in {**causes.by_onset, "dead_input": dead, "stale_index": stale}.items():
        block.at_onset[code] = value.astype(np.float32)
    # A register of another kind or of nobody may stand still for good; a leak or a hum may not.
    stopped = causes.by_onset["dead_input"].max(axis=1)
    still = stopped > 2.0
    strange = np.clip(np.log(STRANGE_STILL) + stopped, 0.0, 10.0)
    block.add(("crossed", "ports_swapped", "duplicate_serial"), still & stills.never, strange)
    ended = np.where(stills.known, stills.from_us, 0)
    first_caught = np.where(caught, stills.from_us, np.iinfo(np.int64).max).min(axis=1)
    first_pause = np.where(stills.known, stills.from_us, np.iinfo(np.int64).max).min(axis=1)
    begin = np.minimum(case.fleet.fit_us, figures["first_us"])
    moved = np.where(stills.never, begin, stills.open_from_us)
    block.since_us[:, COLUMN["dead_input"]] = np.where(still, moved, 0)
    block.since_us[:, COLUMN["vacant"]] = np.where(still, moved, np.where(longest > 5, ended[:, 0], 0))
    block.since_us[:, COLUMN["stale_index"]] = np.where(any_caught, first_caught, 0)
    block.since_us[:, COLUMN["intermittent"]] = np.where(stills.known.any(axis=1), first_pause, 0)
    return block


def marks_gain(case: Case, pace: Pace) -> Floats:
    """Return how much the reads marked as repeated speak for a stale index, against the town's own share of them [nat].

    Such reads are passed over by the scan, so their standstill is none of its own: the mark is the evidence.

    Source
    ------
    Gamma-Poisson about the fleet's trimmed mean for a sound port; for a stale one some days' worth of reads, any number
    up to half of them equally likely (our assumption).
    """
    repeated = case.scan.figures["repeated"].astype(float)
    total = case.scan.figures["n"] + repeated
    share = repeated / np.maximum(total, 1.0)
    calm = np.sort(share)[: int(0.97 * len(share))]
    town = float((calm.sum() + CALM_PORTS * CALM_SHARE) / (len(calm) + CALM_PORTS))
    usual = negative_binomial(repeated, np.maximum(town * total, 0.05), np.full(len(share), 1.5))
    most = np.maximum(total / 2, 4.0)
    spell = np.maximum(SPELL_SHARE * total, 4.0)
    # Where hardly any port has marks, filling holes is not this delivery's habit.
    marked = np.count_nonzero(repeated) / max(len(repeated), 1)
    bad = BAD_SPELL * min(marked / MARKING_TOWN, 1.0) + 1e-5
    usual = np.logaddexp(np.log(1 - bad) + usual, np.log(bad) - np.log(spell) - repeated / spell)
    least = np.minimum(np.maximum(1.2 / np.maximum(pace.step_days, 1e-3), 2.0), most / 2)
    held = np.where((repeated >= least) & (repeated <= most), -np.log(most - least + 1), -6.0 - np.log(most))
    return np.clip(held - usual, -8.0, 12.0)


def picture(case: Case, row: int) -> EvidencePicture | None:
    """Return the index over time with its longest standstills marked, None where nothing was heard.

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
    walk = case.scan.day_walk[row] * case.fleet.quantum_index_l[row]
    seen = np.flatnonzero(~np.isnan(walk))
    if not len(seen):
        return None
    stills = find_standstills(case)
    marks = [
        Mark(f"{stills.length[row, k]:.1f} days still", "band", "limit", *moments(
            (int(stills.from_us[row, k]), int(stills.from_us[row, k] + stills.length[row, k] * DAY_US))))
        for k in range(stills.length.shape[1]) if stills.known[row, k]
    ]  # fmt: skip
    figures = case.scan.figures
    if stills.open_known[row]:
        marks.append(Mark("still", "band", "limit", *moments((stills.open_from_us[row], figures["last_us"][row]))))
    longest = max(float(stills.length[row].max()), float(stills.open_days[row]))
    caption = (
        f"The longest standstill lasts {longest:.1f} days; a pulse is expected every "
        f"{1 / max(pace_of(case).per_day[row], 1e-6):.2f} days while the place is in use."
    )
    when = moments(int(case.scan.calendar.start_us + (day + 1) * DAY_US) for day in seen)
    line = Series("index since the first read", "L", when, tuple(float(v) for v in walk[seen]))
    return EvidencePicture("Standstills", "line", (line,), caption, marks=tuple(marks), zero=True)
