"""The words that a whole page shares: terminations, what is left behind, what is ticked and signed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Final

from dialtrue.domain.contracts import LOOPS
from dialtrue.domain.job_sheet.register_plan import RegisterPlan
from dialtrue.domain.job_sheet.register_words import LONGEST_NOTE, cut
from dialtrue.domain.job_sheet.sheet import Blank, Check, Choice
from dialtrue.domain.words import printable

_ALWAYS: Final = (
    "Conductors found by test, not by colour",
    "6 mm (1/4 in) bare, none of it visible",
    "Screws finger-tight and a little",
    "Every wire tugged, then the count seen again",
    "Cable clamped, drip loop, spare wires capped",
    "Cold latches warmed, never forced",
)
_BY_MOUNT: Final = {
    "pit": ("Gel splices, each wire apart, above flood line", "Slack enough to lift the lid fully"),
    "wall": ("Entry hole slopes outward, sealed",),
    "pole": ("Above snow and mower, clear of lines",),
    "indoor": ("Kept apart from mains, crossed at right angles",),
}
_BRIDGE: Final = "Loop bridged, 18 to 20 AWG (0.5 to 0.8 mm²) solid"
_LABELS: Final = "HIGH and LOW tagged at both ends of both cables"


def terminations_for(registers: Sequence[RegisterPlan]) -> tuple[Check, ...]:
    """Return the checklist of terminations for the registers of one page.

    Parameters
    ----------
    registers : sequence of RegisterPlan
        Of one page, one or more.

    Returns
    -------
    tuple of Check
        Each marked as common practice.

    Raises
    ------
    Never raises.

    Source
    ------
    ``FIELD-PRACTICE``: said by practitioners, in no document; a maker's instruction goes first.
    """
    texts = list(_ALWAYS)
    texts += _BY_MOUNT.get(registers[0].mount, ())
    if any(plan.tamper_loop == "bridged" for plan in registers):
        texts.append(_BRIDGE)
    if any(plan.register_role != "single" for plan in registers):
        texts.insert(0, _LABELS)
    return tuple(Check(text, common_practice=True) for text in texts)


def as_left_for(registers: Sequence[RegisterPlan]) -> tuple[Check, ...]:
    """Return what is ticked before leaving: photographs, read-back, tamper loop, site.

    Never raises.

    Source
    ------
    ``FIELD-PRACTICE``.
    """
    texts = [
        "Photograph: dial, endpoint serial, time in one frame",
        "Photograph: serial on the meter's body, place",
        "Photograph: wiring before the cover closes",
        "Settings read back from the endpoint itself",
    ]
    if any(plan.tamper_loop == "wired" for plan in registers):
        texts.append("Loop opened: alarm came; closed: it cleared")
    texts.append("Last pair taken last of all")
    texts.append("Lid flush, site clean, card left" if registers[0].mount == "pit" else "Site clean, card left")
    return tuple(Check(text) for text in texts)


def readings_for(registers: Sequence[RegisterPlan]) -> tuple[str, ...]:
    """Return the moments at which every dial and index of a page is read, in order.

    Never raises.

    Source
    ------
    ``COUNT-MODEL``: a pair is read before and after each draw, and last of all on leaving. Two registers are read
    together, for the one that is not drawn must stand still.
    """
    last = "Last pair, on leaving"
    if len(registers) == 1:
        middle = {
            "tick_to_tick": ("At the first count", "At the last count"),
            "parts": ("Before", "After the closures by hand"),
        }
        return (*middle.get(registers[0].proof_kind, ("Before the draw", "After the draw")), last)
    if any(plan.register_role != "single" for plan in registers):
        return ("Before", "After draw 1, one tap: LOW", "After draw 2, wide open: HIGH", last)
    return ("Before", *(f"After the draw at {cut(plan.meter_serial, 16)}" for plan in registers), last)


def tamper_choices(registers: Sequence[RegisterPlan]) -> tuple[Choice, ...]:
    """Return the choice of the tamper loop, one for the page or one for each register where they differ.

    Never raises.

    Source
    ------
    Contract values of ``tamper_loop``.
    """
    plans = list({(plan.tamper_loop, plan.tamper_note): plan for plan in registers}.values())
    return tuple(
        Choice(
            "Tamper loop" if len(plans) == 1 else f"Tamper loop, {_named(plan)}",
            LOOPS,
            plan.tamper_loop,
            cut(plan.tamper_note, LONGEST_NOTE),
        )
        for plan in plans
    )


def _named(plan: RegisterPlan) -> str:
    """Name a register in two words."""
    return printable(plan.meter_serial) if plan.register_role == "single" else plan.register_role.upper()


def blanks_for(registers: Sequence[RegisterPlan]) -> tuple[Blank, ...]:
    """Return what is written in on leaving: endpoint serials, seals, time, names.

    Never raises.

    Source
    ------
    Columns of ``fittings``; seals and signatures are common practice.
    """
    numbers = sorted({plan.endpoint_number or 1 for plan in registers})
    many = len(numbers) > 1
    blanks = [Blank(f"Endpoint {number} serial" if many else "Endpoint serial") for number in numbers]
    return (
        *blanks,
        Blank("Meter seal"),
        Blank("Endpoint seal"),
        Blank("Day and time"),
        Blank("Fitter, signed"),
        Blank("Customer or second person"),
    )


def follow_up_for(registers: Sequence[RegisterPlan], visit_day: dt.date | None) -> str:
    """Say when the second dial read is due, blank where the plan asks for none.

    Never raises.

    Source
    ------
    ``follow_up_days`` of the plan; the earliest register counts.
    """
    days = [plan.follow_up_days for plan in registers if plan.follow_up_days]
    if not days:
        return ""
    if visit_day is None:
        return f"Second dial read due {min(days)} days after this visit."
    due = visit_day + dt.timedelta(days=min(days))
    return f"Second dial read due {due:%a} {due.day} {due:%b %Y}, {min(days)} days after this visit."
