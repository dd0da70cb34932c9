"""Evidence of the records alone: weight set against survey, start against dial, one endpoint claimed twice."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.ratios import UNIT_RATIOS

RECORD_WRONG = 0.003
"""Share of records that disagree though the port counts true. Our assumption; a survey finds 2 to 5 % of any kind."""
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
    broken = case.pairs.start_broken == 1

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
        if case.dial_doubted[row]:
            words.append("the dial text at the fitting is doubted: the keyed start agrees with every later look")
        if broken[row]:
            words.append("the first read cannot be reached from the keyed start")
            figures |= {
                "start_count": int(fleet.start_count[row]),
                "first_count": int(case.scan.figures["first_count"][row]),
            }
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
    block.parameter[tenfold | unit, :] = ratio[tenfold | unit, None]

    q, w = fleet.quantum_index_l, fleet.weight_set_l
    tolerance = np.maximum(1.0, np.where(np.isfinite(w / q), w / q, 1.0)) + fleet.quantum_dial_l / q
    off = np.isfinite(offset) & (np.abs(offset) > np.where(np.isfinite(tolerance), tolerance, 1.0))
    near = np.isfinite(offset) & ~off
    turn = np.zeros(n, bool)
    for places in range(3, 9):
        step = 10.0**places
        rest = np.abs(offset - np.round(offset / step) * step)
        turn |= off & (rest <= 1) & (np.abs(offset) >= step) & (fleet.start_count < step)
    block.add_all_but(("start_slip", "digit_slip", "crossed"), off, wrong)
    block.add("start_slip", off, np.log(0.75))
    block.add("start_slip", near & ~broken, np.log(0.25))
    block.add("digit_slip", off, np.where(turn, np.log(0.25), wrong))
    block.add("crossed", off, np.log(0.03))
    block.add_all_but(("start_slip", "digit_slip", "crossed"), off & case.start_confirmed_wrong, -6.0)

    # First read out of reach of the start: the endpoint did not begin where the record says.
    first = case.scan.figures["first_count"].astype(float)
    start = fleet.start_count.astype(float)
    cut = np.zeros(n, bool)
    for step in (*(10.0**places for places in range(2, 9)), 65_536.0, 1_048_576.0, 16_777_216.0):
        cut |= broken & (start >= step) & (np.mod(first - start, step) <= np.maximum(0.02 * step, 50)) & (first < step)
    with np.errstate(divide="ignore", invalid="ignore"):
        shifted = np.log10(np.maximum(first, 1) / np.maximum(start, 1))
    scaled = broken & (np.abs(shifted - np.round(shifted)) < 0.003) & (np.round(shifted) != 0)
    block.add_all_but(
        ("start_slip", "digit_slip", "crossed", "duplicate_serial", "index_reset", "weight_decade", "steady_counts",
         "not_listed"),
        broken, np.log(0.0006),
    )  # fmt: skip
    block.add("start_slip", broken, np.where(cut | scaled, np.log(0.08), np.log(0.35)))
    # Cut top digits show at once; the other signs of wrong digits need not have come yet.
    block.add("digit_slip", broken, np.where(cut, np.log(0.4) + 2.0, np.log(0.004)))
    block.add("crossed", broken, np.log(0.3))
    block.add("duplicate_serial", broken, np.log(0.4))
    block.add("steady_counts", broken, np.log(0.03))
    block.add("index_reset", broken, np.where(first < 0.02 * np.maximum(start, 1), np.log(0.1), np.log(0.02)))
    block.add("weight_decade", broken, np.where(scaled, np.log(0.3), np.log(0.01)))
    block.add("not_listed", broken, np.log(0.2))

    claimed = case.rivals > 0
    block.add_all_but(("duplicate_serial",), claimed, np.log(1e-4))
    block.add("duplicate_serial", ~claimed, np.log(0.02))
    block.parameter[off & ~(tenfold | unit), :] = np.nan
    block.parameter[:, COLUMN["start_slip"]] = np.where(off, offset * q, np.nan)

    silent = case.compound & (case.scan.figures["n"] == 0)
    block.add_all_but(("port_unread",), silent, np.log(0.0002))
    block.add("port_unread", ~silent, -16.0)
    block.add("ports_swapped", ~case.compound, -16.0)
    return block
