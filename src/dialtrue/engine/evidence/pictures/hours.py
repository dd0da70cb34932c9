"""Pictures of hours: of the day against the town's, and wet against dry."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.evidence_picture import EvidencePicture, Series
from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.fleet import Floats

HOURS = tuple(float(hour) for hour in range(24))
LEAST_STEPS = 24 * 7
"""Short steps under which a port has no day of its own yet. Our assumption: a week of hours."""


def hour_shares(case: Case, row: int) -> tuple[Floats, Floats] | None:
    """Return the share of counting hours by local hour of day, of this port and of the median port; None if unknown."""
    moves = case.scan.hour_moves.sum(axis=1, dtype=np.int64).astype(float)
    steps = case.scan.hour_steps.sum(axis=1, dtype=np.int64).sum(axis=1)
    if steps[row] < LEAST_STEPS or moves[row].sum() == 0:
        return None
    homes = (steps >= LEAST_STEPS) & (moves.sum(axis=1) > 0)
    shape = moves[homes] / moves[homes].sum(axis=1, keepdims=True)
    town = np.median(shape, axis=0)
    return moves[row] / moves[row].sum(), town / max(float(town.sum()), 1e-9)


def clock_picture(case: Case, row: int) -> EvidencePicture | None:
    """Show the hours of the day at which counts come, beside the town's; None on reads too sparse for hours."""
    shares = hour_shares(case, row)
    if shares is None:
        return None
    port, town = (100.0 * share for share in shares)
    likest = max(range(24), key=lambda shift: float(port @ np.roll(town, shift)))
    shift = likest - 24 if likest > 12 else likest
    told = "the town's own" if shift == 0 else f"most like the town's moved by {shift:+d} h"
    series = (
        Series(name="this port", unit="% of counting hours", x=HOURS, y=tuple(port.tolist())),
        Series(name="the town", unit="% of counting hours", x=HOURS, y=tuple(town.tolist())),
    )
    return EvidencePicture(
        title="Hours of the day with a count", kind="line", series=series, zero=True, x_name="local hour of day",
        caption=f"The day of this port is {told}.",
    )  # fmt: skip


def weather_picture(case: Case, row: int) -> EvidencePicture | None:
    """Show the hourly volume of wet and of dry hours by hour of day; None where the weather is not known."""
    hours = case.scan.wet_hours[row].astype(float)
    if hours[:, 1].sum() < 1 or hours[:, 0].sum() < 1:
        return None
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = case.scan.wet_counts[row] * float(case.fleet.quantum_index_l[row]) / hours
    dry, wet = (tuple(None if np.isnan(value) else float(value) for value in rate[:, k]) for k in (0, 1))
    expected = float(np.nansum(rate[:, 0] * hours[:, 1]))
    observed = float(np.nansum(rate[:, 1] * hours[:, 1]))
    told = f"{observed / expected:.3g} times what" if expected > 0 else "something, where"
    caption = (
        f"{int(hours[:, 1].sum())} wet hours registered {told} dry hours of the same time of day would "
        f"{'register' if expected > 0 else 'register nothing'}."
    )
    series = (
        Series(name="wet hours", unit="L/h", x=HOURS, y=wet),
        Series(name="dry hours", unit="L/h", x=HOURS, y=dry),
    )
    return EvidencePicture(
        title="Wet and dry hours", kind="line", series=series, caption=caption, zero=True, x_name="local hour of day"
    )
