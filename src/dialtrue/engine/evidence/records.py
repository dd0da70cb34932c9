"""Evidence of the records alone: weight set against survey, start against dial, one endpoint claimed twice."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.evidence.slip_of_the_pen import KEYED, READ, slip_density
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.ratios import UNIT_RATIOS
from dialtrue.engine.scan_kernel import DAY_US

RECORD_WRONG = 0.003
"""Share of records that disagree though the port counts true. Our assumption; a survey finds 2 to 5 % of any kind."""
DIAL_MISREAD = 0.005
"""Share of dial texts at the fitting that are wrong. Our assumption, one slip in two hundred careful readings."""
START_SEEN = 0.8
"""Share of wrong starts that the record shows; the rest was read wrong and keyed as read. Our assumption."""
CLONED = 0.08
"""Share of wrong starts that are the last job's, left in the programmer. Our assumption."""
CLONE_DAYS = 4.0
LATE_START, LATE_START_L = 0.05, 60.0
"""Share of fittings whose start was read before the last draw, and the water of that draw [L]. Harmless (`F28` of the
trade's cards). Our assumption: a bucket or a few."""
SETTLED_NAT = 6.0
"""What the looks say against a misread dial where they show the start's offset. Our assumption. [nat]"""
MOST_NAT = 12.0
REPEAT_ROUNDING = 1e-6


def start_offset_counts(case: Case) -> np.ndarray:
    """Return keyed start minus the start the dial asks for, in counts, taken the short way round; nan if not known."""
    fleet = case.fleet
    with np.errstate(invalid="ignore"):
        wanted = np.floor(fleet.dial_fit_l / fleet.quantum_index_l + REPEAT_ROUNDING)
        capacity = np.where(fleet.capacity_counts > 0, fleet.capacity_counts.astype(float), np.inf)
        wanted = np.where(np.isfinite(capacity), np.mod(wanted, np.where(np.isfinite(capacity), capacity, 1)), wanted)
        offset = fleet.start_count - wanted
    return np.where(fleet.start_count >= 0, offset, np.nan)


def same_start_before(start_count: Ints, fit_us: Ints) -> np.ndarray:
    """Mark fittings whose keyed start is one that a fitting of the days before had too; bool (n,).

    A start that repeats to the last figure was left in the programmer from the last job.
    """
    n = len(start_count)
    order = np.lexsort((fit_us, start_count))
    again = np.zeros(n, bool)
    if n > 1:
        a, b = order[:-1], order[1:]
        close = (fit_us[b] - fit_us[a] > 0) & (fit_us[b] - fit_us[a] <= CLONE_DAYS * DAY_US)
        again[b] = close & (start_count[a] == start_count[b]) & (start_count[b] > 99)
    return again


def start_densities(case: Case, offset: Floats, cloned: np.ndarray) -> tuple[Floats, Floats, Floats]:
    """Return how likely the difference between start and dial's text is in three ways [1/count of the index].

    The start was keyed wrong; the dial's text was read wrong; the start was read a draw before the dial was written.
    """
    fleet = case.fleet
    q, qd = fleet.quantum_index_l, fleet.quantum_dial_l
    with np.errstate(divide="ignore", invalid="ignore"):
        start = fleet.start_count.astype(float)
        wanted = start - np.where(np.isfinite(offset), offset, 0.0)
        step = np.where(np.isfinite(qd / q), np.maximum(qd / q, 1.0), 1.0)
        places = np.where(fleet.capacity_counts > 0, np.log10(np.maximum(fleet.capacity_counts, 10)), 6.0)
        keyed = slip_density(start, wanted, KEYED, tolerance=step - 1, figures=np.round(places))
        keyed = np.where(cloned, (1 - CLONED) * keyed + CLONED, (1 - CLONED) * keyed)
        # The dial in its own figures, and what it should have shown if the start is right; one figure of it is worth
        # ``step`` counts of the index.
        text = np.round(fleet.dial_fit_l / qd)
        shown = np.floor(start * q / qd + REPEAT_ROUNDING)
        slack = np.where(np.abs(qd / q - np.round(qd / q)) < 1e-6, 0.0, 1.0)
        wheels = np.nan_to_num(np.round(np.log10(fleet.capacity_dial_l / qd)), nan=6.0, posinf=6.0, neginf=6.0)
        read = slip_density(text, shown, READ, tolerance=slack, figures=wheels) / step
        draw = np.maximum(LATE_START_L, 0.5 * fleet.quantum_dial_l + fleet.weight_set_l)
        late = np.where(offset < 0, np.exp(np.minimum(offset, 0.0) * q / draw) * q / draw, 0.0)
    least = 1e-14
    return tuple(np.maximum(np.nan_to_num(value), least) for value in (keyed, read, late))  # type: ignore[return-value]


def weigh(case: Case) -> Block:
    """Weigh what the records say against each other. Our assumptions stand beside each share."""
    fleet, n = case.fleet, case.fleet.size
    offset = start_offset_counts(case)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = fleet.weight_set_l / fleet.weight_meter_l
        decade = np.log10(ratio)
    known = np.isfinite(ratio)
    tenfold = known & (np.abs(decade - np.round(decade)) < 1e-4) & (np.round(decade) != 0)
    nearest = np.abs(np.log(np.where(known, ratio, 1.0))[:, None] - np.log(UNIT_RATIOS[0])[None, :]).min(axis=1)
    unit = known & ~tenfold & (nearest < 1e-4)
    other = known & ~tenfold & ~unit & (np.abs(np.where(known, ratio, 1.0) - 1) > 1e-4)
    agrees = known & ~tenfold & ~unit & ~other
    q, w = fleet.quantum_index_l, fleet.weight_set_l
    tolerance = np.maximum(1.0, np.where(np.isfinite(w / q), w / q, 1.0)) + fleet.quantum_dial_l / q
    off = np.isfinite(offset) & (np.abs(offset) > np.where(np.isfinite(tolerance), tolerance, 1.0))
    near = np.isfinite(offset) & ~off
    cloned = off & same_start_before(fleet.start_count, fleet.fit_us)

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        words: list[str] = []
        figures: dict[str, Figure] = {}
        if tenfold[row] or unit[row] or other[row]:
            words.append("the weight set differs from the meter's pulse weight")
            figures |= {
                "weight_set_l": float(fleet.weight_set_l[row]),
                "pulse_weight_l": float(fleet.weight_meter_l[row]),
            }
            figures["weight_ratio"] = round(float(ratio[row]), 6)
        if np.isfinite(offset[row]) and offset[row] != 0:
            words.append("the start index keyed is not the dial at the fitting")
            figures |= {"start_minus_dial_l": round(float(offset[row] * fleet.quantum_index_l[row]), 3)}
        if cloned[row]:
            words.append("the same start was keyed at the job before")
        if case.dial_doubted[row]:
            words.append("the dial text at the fitting is doubted: the keyed start agrees with every later look")
        if case.start_confirmed_wrong[row]:
            words.append("every later look is off by just that much")
        if case.rivals[row]:
            words.append("the same endpoint and port is recorded at another meter")
            figures["other_records"] = int(case.rivals[row])
        if case.partner[row] == -2:
            words.append("the survey has a second register here that nothing is fitted to")
        if not words:
            words.append("weights, start and serials agree with each other")
        return f"Records: {'; '.join(words)}.", figures

    block = Block.blank("records", n, says)
    block.apart = True
    wrong = np.log(RECORD_WRONG)
    block.add("weight_decade", agrees, np.log(0.6))
    block.add("unit_slip", agrees, np.log(0.6))
    block.add_all_but(("weight_decade",), tenfold, wrong)
    block.add("weight_decade", tenfold, np.log(0.4))
    block.add_all_but(("unit_slip",), unit, wrong)
    block.add("unit_slip", unit, np.log(0.4))
    block.add_all_but(("lost_counts", "extra_counts", "unit_slip", "weight_decade", "not_listed"), other, wrong)
    block.measured()[tenfold | unit, :] = ratio[tenfold | unit, None]

    settled = off & case.start_confirmed_wrong
    as_keyed, as_read, as_late = start_densities(case, offset, cloned)
    # Everybody else's difference is a misread dial or a draw; a wrong start is its own explanation. Where the looks
    # have settled which, the misread dial is out.
    misread = np.where(settled, np.exp(-SETTLED_NAT), 1.0) * DIAL_MISREAD * as_read
    harmless = np.log(misread + LATE_START * as_late)
    keyed = np.log(as_keyed)
    top = np.maximum(harmless, keyed)
    harmless, keyed = np.maximum(harmless - top, -2 * MOST_NAT), np.maximum(keyed - top, -2 * MOST_NAT)
    turn = np.zeros(n, bool)
    for places in range(3, 9):
        step = 10.0**places
        rest = np.abs(offset - np.round(offset / step) * step)
        turn |= off & (rest <= 1) & (np.abs(offset) >= step) & (fleet.start_count < step)
    block.add_all_but(("start_slip",), off, harmless)
    block.add("start_slip", off, np.log(START_SEEN) + keyed)
    block.add("start_slip", near, np.log(1 - START_SEEN))
    block.add("digit_slip", off & turn, np.log(0.15) - np.log(DIAL_MISREAD))

    claimed = case.rivals > 0
    block.add_all_but(("duplicate_serial",), claimed, np.log(1e-4))
    block.add("duplicate_serial", ~claimed, np.log(0.02))
    block.measured()[off & ~(tenfold | unit), :] = np.nan
    block.measured()[:, COLUMN["start_slip"]] = np.where(off, offset * q, np.nan)

    silent = case.compound & (case.scan.figures["n"] == 0)
    block.add_all_but(("port_unread",), silent, np.log(0.0002))
    block.add("port_unread", ~silent, -16.0)
    block.add("ports_swapped", ~case.compound, -16.0)
    return block
