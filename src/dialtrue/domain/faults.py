"""The fault codes: what each is, in words a technician could say, and how it is put right.

The codes are fixed by the file contract. ``FAULTS`` fixes the column order of every posterior.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

Kind = Literal["sound", "wiring", "setting", "record", "data", "metering", "innocent", "open"]


@dataclass(frozen=True, slots=True)
class Fault:
    """One cause that a finding may name.

    ``kind`` says whose work puts it right; ``remedy`` is the usual repair [common practice, no source].
    """

    code: str
    kind: Kind
    title: str
    remedy: str
    settling_check: str


_ROWS: Final = (
    ("sound", "sound", "counts true", "Nothing to do.", "A dial read at the next visit."),
    ("dead_input", "wiring", "water passes, nothing is counted",
     "Check polarity, splice and contact; repair; set the index to the dial.",
     "A dial read: if the dial has moved and the index has not, the chain is dead."),
    ("lost_counts", "wiring", "a share of the pulses is missed",
     "Shorten the debounce within the fit check's limit, re-seat the sensor; set the index to the dial.",
     "Count 20 ticks of the dial at a slow draw and 20 at a fast one against the index."),
    ("double_count", "wiring", "each pulse is counted twice",
     "Count one edge only, or lengthen the debounce; set the index to the dial.",
     "Draw ten pulses and watch whether the index moves by twenty."),
    ("extra_counts", "wiring", "a share of the pulses is counted more than once",
     "Lengthen the debounce, lower the pull-up or shorten the cable; set the index to the dial.",
     "Count 20 ticks of the dial at a slow draw and 20 at a fast one against the index."),
    ("wet_counts", "wiring", "false counts that come with rain or damp",
     "Remake the splice with gel, dry and seal; set the index to the dial.",
     "A photograph of the dial before and after the next rain."),
    ("steady_counts", "wiring", "false counts at a steady rate without water",
     "Move the cable away from the source, screen it at one end, lengthen the debounce; set the index to the dial.",
     "Shut the valve and watch whether the index still climbs."),
    ("intermittent", "wiring", "counting stops and resumes",
     "Remake the joint, then wiggle-test while drawing; set the index to the dial.",
     "Wiggle the joint while water runs and watch the index."),
    ("weight_decade", "setting", "pulse weight or resolution wrong by a power of ten",
     "Set the pulse weight to the meter's own, then set the index to the dial.",
     "Draw ten pulses and compare dial and index."),
    ("unit_slip", "setting", "volume unit set wrongly",
     "Set the unit once, in one place, then set the index to the dial.",
     "A photograph of the dial's face that shows the printed unit."),
    ("digit_slip", "setting", "wrong number of digits: the index rolls over early or loses its top digits",
     "Set the endpoint's digits to the survey's, then set the index to the dial.",
     "Read the endpoint's digits back and compare with the dial's."),
    ("start_slip", "setting", "start index wrong, rate right",
     "Set the index to the dial; nothing to repair.",
     "A photograph of the dial, all positions, painted zeros too."),
    ("crossed", "record", "endpoints of two or more meters exchanged",
     "Exchange the wires or the records, once, not both; set both indexes to their dials.",
     "Draw water at one meter and watch both indexes."),
    ("ports_swapped", "record", "a compound meter's two ports exchanged",
     "Swap the ports in the record or at the terminals, once; set both indexes.",
     "Open a tap (low side only), then a hydrant, and watch both indexes."),
    ("duplicate_serial", "record", "one endpoint serial recorded for two meters",
     "Read both labels again and correct the record.",
     "A photograph of each endpoint's label beside its meter's plate."),
    ("meter_exchanged", "record", "dial replaced without a record",
     "Enter the out-read, the in-read and the date of the exchange.",
     "A photograph of the meter's plate: is the serial the recorded one?"),
    ("stale_index", "data", "the same index delivered again and again while water passes",
     "Mark the repeated reads; mend the collector or the import.",
     "A fresh read straight from the endpoint."),
    ("clock_shift", "data", "reads carry the wrong time",
     "Correct the clock or the zone of the import.",
     "Compare one read's stamp with a watch at the moment it is taken."),
    ("backflow_counted", "metering", "reverse flow counted as forward",
     "Fit a check valve (mind thermal expansion) or an output that knows direction.",
     "Shut every tap and watch whether the sweep hand rocks."),
    ("index_reset", "wiring", "the counter fell back to a stored or start value",
     "Replace the cell or the endpoint; set the index to the dial.",
     "A dial read and the endpoint's own event record."),
    ("meter_reversed", "metering", "meter or direction signal turned",
     "Turn the meter to its flow arrow, or exchange the direction signals.",
     "A photograph of the flow arrow; a draw, watching the sign of the index."),
    ("port_unread", "record", "one register of a compound meter has no port or no reads",
     "Fit and enter the second port.",
     "Count the registers on the meter and the ports in the record."),
    ("register_mismatch", "metering", "dial and index agree, both wrong by a fixed ratio to the water",
     "Fit the register that belongs to the meter body.",
     "A known volume by weight against the dial."),
    ("customer_leak", "innocent", "water really runs without pause",
     "Tell the customer; no work on the wiring.",
     "A dial read: it moves by the same volume as the index."),
    ("vacant", "innocent", "no use registered",
     "None on the wiring.",
     "A dial read: it has not moved either."),
    ("use_change", "innocent", "the customer's use changed",
     "None on the wiring.",
     "A dial read: it moves by the same volume as the index."),
    ("not_listed", "open", "settled by nothing listed here",
     "Take a fresh pair of dial and index and look again.",
     "A fresh pair: dial photograph and index at the same moment."),
)  # fmt: skip

CATALOGUE: Final[dict[str, Fault]] = {row[0]: Fault(*row) for row in _ROWS}
FAULTS: Final[tuple[str, ...]] = tuple(CATALOGUE)
INNOCENT: Final[frozenset[str]] = frozenset(code for code, fault in CATALOGUE.items() if fault.kind == "innocent")
COLUMN: Final[dict[str, int]] = {code: column for column, code in enumerate(FAULTS)}
