"""Pictures of the numbers themselves: their common divisor day by day, the sizes of the steps, and falls."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.evidence_picture import EvidencePicture, Mark, Series, moments
from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.scan_kernel import DAY_US

SIZE_WORDS = ("0", "1", "2", *(f"{2**k + 1} to {2 ** (k + 1)}" for k in range(1, 9)), "over 512")
"""Classes of ``Scan.step_sizes``, in pulses."""


def pulses_per_weight(case: Case, row: int) -> int | None:
    """Return the counts that one pulse should add, None where weight over resolution is no whole number."""
    ratio = float(case.fleet.weight_set_l[row] / case.fleet.quantum_index_l[row])
    whole = round(ratio) if np.isfinite(ratio) else 0
    return whole if whole >= 1 and abs(ratio - whole) < 1e-6 else None


def grain_picture(case: Case, row: int) -> EvidencePicture | None:
    """Show what all steps of each day are a multiple of, in pulse weights; None where nothing moved."""
    granule = case.scan.day_granule[row]
    days = np.flatnonzero(granule > 0)
    if not len(days):
        return None
    grain = pulses_per_weight(case, row)
    size = granule[days] / (grain or 1)
    x = moments(case.scan.calendar.start_us + days.astype(np.int64) * DAY_US)
    overall = int(np.gcd.reduce(granule[days]))
    of = f"; the record asks for multiples of {grain}" if grain else ""
    unit = "pulse weights" if grain else "counts"
    return EvidencePicture(
        title="Common divisor of each day's steps", kind="points", zero=True,
        series=(Series(name="common divisor", unit=unit, x=x, y=tuple(size.tolist())),),
        marks=(Mark("one pulse weight", "level", "expected", 1.0),) if grain else (),
        caption=f"All index steps are multiples of {overall} {'count' if overall == 1 else 'counts'}{of}.",
    )  # fmt: skip


def size_picture(case: Case, row: int) -> EvidencePicture | None:
    """Show how often the short steps held how many pulses; None where no step was short."""
    sizes = case.scan.step_sizes[row]
    total = int(sizes.sum())
    if not total:
        return None
    last = int(np.flatnonzero(sizes)[-1]) + 1
    bars = Series(
        name="steps", unit="", x=SIZE_WORDS[:last], y=tuple(float(count) for count in sizes[:last]),
    )  # fmt: skip
    return EvidencePicture(
        title="Sizes of the steps", kind="bars", series=(bars,), zero=True, x_name="pulses in a step",
        caption=f"Of {total:,} short steps {int(sizes[0]):,} moved nothing and {int(sizes[1]):,} held one pulse.",
    )  # fmt: skip


def possibility_picture(case: Case, row: int) -> EvidencePicture | None:
    """List the first falls of the index; None where it never fell."""
    falls = [fall for fall in case.scan.back[row] if fall[1] > 0]
    if not falls:
        return None
    x = moments(int(fall[1]) for fall in falls)
    total = int(case.scan.figures["backs"][row])
    return EvidencePicture(
        title="Falls of the index", kind="table",
        series=(Series(name="before", unit="counts", x=x, y=tuple(float(fall[2]) for fall in falls)),
                Series(name="after", unit="counts", x=x, y=tuple(float(fall[3]) for fall in falls))),
        caption=f"The index fell {total} {'time' if total == 1 else 'times'}.",
    )  # fmt: skip
