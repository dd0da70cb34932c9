"""Pictures of the index's course: daily volume, one change of level, standstills, use before the fitting."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.evidence_picture import EvidencePicture, Series, moments
from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.scan_kernel import DAY_US

HOUR_US = DAY_US // 24
WHOLE_DAY_H, OFTEN_H = 21.0, 6.0
"""Hours of the last day from which it is drawn as a day, where reads come more often than every six hours. Our
assumption: the rest of a day draws little, and one daily read is a day whenever it comes."""


def daily_volume(case: Case, row: int) -> tuple[Ints, Floats, int]:
    """Return the days (starts, µs), the volume of each [L], and how many days lie between two reads.

    A day without a read of its own takes its share of the step that spans it. A last day that was not heard to its
    end is left out.
    """
    walk = case.scan.day_walk[row]
    known = np.flatnonzero(~np.isnan(walk))
    figures = case.scan.figures[row]
    heard_h = (figures["last_us"] - case.scan.calendar.start_us) % DAY_US / HOUR_US
    step_h = figures["step_us_total"] / max(int(figures["n"]) - 1, 1) / HOUR_US
    known = known[:-1] if step_h < OFTEN_H and heard_h < WHOLE_DAY_H else known
    if len(known) < 2:
        return np.zeros(0, np.int64), np.zeros(0), 0
    days = np.arange(known[0], known[-1] + 1)
    filled = np.interp(days, known, walk[known]) * float(case.fleet.quantum_index_l[row])
    starts = case.scan.calendar.start_us + days[1:] * DAY_US
    return starts.astype(np.int64), np.diff(filled), len(days) - len(known)


def daily_picture(case: Case, row: int) -> EvidencePicture | None:
    """Show the volume registered on each day; None where fewer than two days were read."""
    starts, volume, bridged = daily_volume(case, row)
    if not len(starts):
        return None
    still = int((volume == 0).sum())
    caption = f"{len(volume)} days; {still} of them registered nothing."
    if bridged:
        caption += f" {bridged} days without a read take their share of the step that spans them."
    series = Series(name="registered", unit="L/day", x=moments(starts), y=tuple(volume.tolist()))
    return EvidencePicture(title="Registered day by day", kind="line", series=(series,), caption=caption, zero=True)


def level_picture(case: Case, row: int) -> EvidencePicture | None:
    """Show the daily volume with its mean either side of the change that gains most; None on a short or dead course."""
    starts, volume, _ = daily_volume(case, row)
    if len(volume) < 14 or not (volume > 0).any():
        return None
    root = np.sqrt(np.maximum(volume, 0.0))
    count = np.arange(1, len(root))
    before, after = np.cumsum(root)[:-1] / count, np.cumsum(root[::-1])[-2::-1] / count[::-1]
    gain = count * count[::-1] / len(root) * (before - after) ** 2
    gain[:4], gain[-4:] = -1.0, -1.0
    at = int(np.argmax(gain)) + 1
    low, high = float(volume[:at].mean()), float(volume[at:].mean())
    days = moments(starts)
    series = (
        Series(name="registered", unit="L/day", x=days, y=tuple(volume.tolist())),
        Series(name="mean before", unit="L/day", x=(days[0], days[at]), y=(low, low)),
        Series(name="mean after", unit="L/day", x=(days[at], days[-1]), y=(high, high)),
    )
    told = f"{high / low:.3g} times the mean before it" if low > 0 else "something, where before there was nothing"
    caption = f"The clearest single change leaves a mean of {told}."
    return EvidencePicture(title="The clearest change of level", kind="line", series=series, caption=caption, zero=True)


def history_picture(case: Case, row: int) -> EvidencePicture | None:
    """Show use before the fitting beside what is registered since; None where the use before is not known."""
    before = float(case.fleet.use_l_day[row])
    figures = case.scan.figures[row]
    if not before > 0 or figures["n"] < 2:
        return None
    since = float(abs(figures["walk"]) * case.fleet.quantum_index_l[row] / case.days[row])
    spread = float(np.exp(np.nan_to_num(case.fleet.use_spread[row], nan=0.4)))
    bars = Series(
        name="mean", unit="L/day", x=("before the fitting", "since the fitting"), y=(before, since),
        low=(before / spread, since), high=(before * spread, since),
    )  # fmt: skip
    return EvidencePicture(
        title="Use before and since", kind="bars", series=(bars,), zero=True,
        caption=f"Registered use since the fitting is {since / before:.3g} times the use before it.",
    )  # fmt: skip
