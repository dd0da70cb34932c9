"""Job sheets of invented sites: every mount, a compound meter, twins, questions, metric and US, and hostile texts."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

import pypdfium2
import zxingcpp

from dialtrue.domain.job_sheet.compose import SheetWords, compose_sheets
from dialtrue.domain.job_sheet.register_plan import PlannedPart, RegisterPlan
from dialtrue.domain.job_sheet.sheet import JobSheet, Stop, WiringPart

D = Decimal
PARTS = tuple(
    PlannedPart(key, D(quantity), kind)
    for kind, key, quantity in (
        ("endpoint", "radio", "1"), ("cable", "four-wires", "13.6"), ("part", "splice", "4"), ("part", "plate", "1"),
        ("part", "anchor", "4"), ("part", "clamp", "2"), ("part", "seal", "2"), ("part", "tie", "6"),
        ("part", "bracket", "1"), ("part", "pad", "1"), ("part", "bridge", "1"), ("part", "port-label", "1"),
        ("part", "cable-label", "2"), ("tool", "stripper", "1"), ("tool", "pliers", "1"), ("tool", "reader", "1"),
        ("tool", "meter", "1"), ("tool", "hose", "1"), ("tool", "hook", "1"), ("tool", "gas", "1"),
    )
)  # fmt: skip
TITLES = {
    "radio": "Radio endpoint for pits, two ports, potted, with tamper loop",
    "four-wires": "22 AWG stranded, four wires: pulse pair and tamper loop",
    "splice": "Gel-filled splice for two conductors, 18 to 24 AWG",
    "plate": "Mounting plate for a wall",
    "anchor": "Screw with anchor, No. 8 by 1-1/4 in",
    "bracket": "Bracket that holds an endpoint under a pit lid",
    "reader": "Reader that shows the endpoint's count and settings",
    "hose": "Hose with a small flow gauge, and a measured bucket",
    "reed": "Reed contact that turns with the register, closed for about a third of the turn",
}
PROOF = (
    "From one count to the third after it the dial must move 29 to 31 gal and the index 3 of its last digit: at most "
    "40 gal, 5 min at the tap. A hose cannot prove it at its greatest flow: draw at high flow too, or lean on the fit "
    "check. Read dial and index again after 30 days: only that shows a slow loss."
)
LOOP_NOTE = "A bridged loop never tells of a cut cable: it shows only as an index that stands still."
DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 170 {height}" width="170mm" height="{height}mm" '
    'font-family="Liberation Sans, sans-serif"><text x="4" y="20" font-size="5">meter to port</text></svg>'
)


def register(**changes: Any) -> RegisterPlan:
    """Return a planned register of a US pit, with everything known; ``changes`` replace what they name."""
    given: dict[str, Any] = {
        "site": "S-1042", "meter_serial": "00417733", "address": "14 Mill Lane", "account": "A-77", "mount": "pit",
        "meter_type": "nutating_disc", "meter_size": "5/8in", "dial_digits": 6, "fixed_zeros": 1, "dial_unit": "gal",
        "pulse_weight": D(10), "pulse_unit": "gal", "endpoint": "radio", "endpoint_number": 1, "port": 1,
        "input": "contact", "output": "reed", "cable": "four-wires", "cable_length_m": 13.6, "debounce_ms": 25.0,
        "pull_up_ohm": 100_000.0, "index_digits": 8, "index_unit": "gal", "index_resolution": D(1),
        "weight_set": D(10), "weight_unit": "gal", "tamper_loop": "bridged", "tamper_note": LOOP_NOTE,
        "proof_kind": "tick_to_tick", "proof_volume": D(40), "proof_counts_low": 30, "proof_counts_high": 30,
        "proof_minutes": 5.0, "proof_note": PROOF, "follow_up_days": 30, "area": "Route 7", "window_from": "08:00",
        "window_to": "12:00", "parts": PARTS,
    }  # fmt: skip
    return RegisterPlan(**(given | changes))


def metric(**changes: Any) -> RegisterPlan:
    """Return an indoor register that counts hundredths of a cubic metre."""
    given: dict[str, Any] = {
        "site": "IN-22", "mount": "indoor", "dial_digits": 7, "fixed_zeros": 0, "dial_unit": "m3",
        "dial_resolution": D("0.01"), "pulse_unit": "L", "meter_size": "DN20", "meter_type": "multi_jet",
        "index_unit": "L", "index_resolution": D(10), "weight_unit": "L", "tamper_loop": "wired",
        "proof_kind": "draw", "proof_volume": D("0.15"), "proof_counts_low": 14, "proof_counts_high": 16,
        "proof_minutes": 10.0,
    }  # fmt: skip
    return register(**(given | changes))


def compound(**changes: Any) -> list[RegisterPlan]:
    """Return the two registers of a compound meter in a pit, the longest page that is realistic."""
    address = "County hospital, meter vault north of the boiler house, second lid from the gate, key at the porter"
    shared: dict[str, Any] = {
        "site": "HOSPITAL-01", "meter_serial": "C-99-118820", "meter_type": "compound", "meter_size": "4in",
        "address": address, "index_note": "The index turns over before the dial: every 9 years at the expected use.",
    }  # fmt: skip
    high = {"register_role": "high", "port": 1, "pulse_weight": D(100), "fixed_zeros": 2, "weight_set": D(100)}
    low = {"register_role": "low", "port": 2, "parts": PARTS[2:6]}
    return [register(**(shared | extra | changes)) for extra in (high | {"proof_high_flow": True}, low)]


def ask(**changes: Any) -> RegisterPlan:
    """Return a register of which next to nothing is known."""
    given: dict[str, Any] = {
        "site": "Q-3", "status": "ask", "mount": "", "address": "", "endpoint": "", "port": None, "input": "",
        "output": "", "index_digits": None, "index_unit": "", "index_resolution": None, "weight_set": None,
        "weight_unit": "", "pull_up_ohm": None, "debounce_ms": None, "proof_kind": "", "proof_note": "",
        "tamper_loop": "", "tamper_note": "", "parts": (), "follow_up_days": None, "pulse_weight": None,
        "questions": "Which pulse output has the register: contact, transistor, or current sensor? Test it, and "
        "photograph the label. How many painted zeros are on the face? What size is the meter? It stands "
        "on the body or the plate.",
    }  # fmt: skip
    return register(**(given | changes))


def every_kind() -> list[RegisterPlan]:
    """Return registers for each kind of page."""
    return [
        register(),
        register(site="W-1", mount="wall", meter_serial="W 1"),
        register(site="P-9", mount="pole", meter_serial="abc-12"),
        metric(),
        *compound(),
        *(register(site="TWINS", mount="wall", meter_serial=serial, port=1) for serial in ("T-1", "T-2")),
        ask(),
    ]


def draw(registers: Sequence[RegisterPlan]) -> tuple[WiringPart, ...]:
    """Draw a wiring as high as that of four wires to each register."""
    if all(plan.port is None for plan in registers):
        return ()
    height = 62 if len(registers) == 1 else 118
    return (WiringPart("Meter to port", DRAWING.format(height=height), "Lead 1 goes to pulse +.", ""),)


def sheets_of(registers: Sequence[RegisterPlan], **words: Any) -> tuple[JobSheet, ...]:
    """Compose sheets with drawings, titles and a stop."""
    stop = Stop("Stop 14, arrive 09:40, crew North and Sons, Tue 1 Dec 2026", "2026-12-01", "North")
    given: dict[str, Any] = {
        "titles": TITLES, "units": {"four-wires": "m"}, "draw": draw, "stops": {plan.site: stop for plan in registers},
    }  # fmt: skip
    return compose_sheets(registers, words=SheetWords(**(given | words)))


def pages_of(pdf: bytes) -> list[str]:
    """Return the text of every page, as an independent reader extracts it."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [page.get_textpage().get_text_bounded() for page in document]
    finally:
        document.close()


def codes_of(pdf: bytes, *, dpi: int = 300) -> list[tuple[str, str]]:
    """Render every page and return what an independent reader decodes: kind (``bar``, ``qr``) and text."""
    found: list[tuple[str, str]] = []
    document = pypdfium2.PdfDocument(pdf)
    try:
        for page in document:
            picture = page.render(scale=dpi / 72, grayscale=True).to_numpy()
            for code in zxingcpp.read_barcodes(picture):
                found.append(("qr" if code.format == zxingcpp.BarcodeFormat.QRCode else "bar", code.text))
    finally:
        document.close()
    return found
