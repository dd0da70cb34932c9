"""The words of one register's column: what it is, what is keyed, how it is proved."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Final

from dialtrue.domain.figures import figure
from dialtrue.domain.job_sheet.register_plan import RegisterPlan
from dialtrue.domain.job_sheet.sheet import Fact, Proof, RegisterPart
from dialtrue.domain.job_sheet.start_boxes import start_boxes
from dialtrue.domain.multipliers import UNIT_WORDS
from dialtrue.domain.quantity import convert
from dialtrue.domain.words import printable

METRES_PER_FOOT: Final = 0.3048
LONGEST_NOTE: Final = 330
LONGEST_TEXT: Final = 90
"""Most characters of a note and of a field. [characters] Our assumption: what one page holds; the rest is cut."""

_HOW: Final = {
    "tick_to_tick": "from count to count",
    "draw": "by a draw",
    "parts": "by parts, provisional",
}
_SECOND_READ: Final = "Read dial and index again after"
"""How the proof's own sentence ends; the sheet says it where the follow-up stands."""
_MOST_DRAWN: Final = {"tick_to_tick": "Draw at most", "draw": "Draw", "parts": "Draw at most"}


def cut(text: str, longest: int = LONGEST_TEXT) -> str:
    """Return a text made printable and no longer than a page can hold. Never raises. Source: ``LONGEST_TEXT``."""
    seen = " ".join(printable(text).split())
    return seen if len(seen) <= longest else f"{seen[: longest - 1].rstrip()}…"


def number(value: Decimal | Fraction | int | None) -> str:
    """Return an exact number as people write it, blank where it is not known. Never raises. Source: definition."""
    return "" if value is None else figure(Fraction(value), places=6)


def amount(value: Decimal | Fraction | None, unit: str) -> str:
    """Return a number with its unit, blank where either is not known. Never raises. Source: definition."""
    return f"{number(value)} {unit}" if value is not None and unit else ""


def words_of(key: str) -> str:
    """Return a word of a table as it is read aloud, such as ``nutating disc``. Never raises. Source: definition."""
    return key.replace("_", " ")


def register_part(plan: RegisterPlan, *, titles: Mapping[str, str]) -> RegisterPart:
    """Put one register's column into words.

    Parameters
    ----------
    plan : RegisterPlan
        What survey and plan say.
    titles : mapping of str to str
        Titles of data sheets by key.

    Returns
    -------
    RegisterPart
        Facts that are not known are blank, to be filled in by hand.

    Raises
    ------
    Never raises.

    Source
    ------
    Our own wording.
    """
    dial, index = plan.dial, plan.index
    tag = "" if plan.register_role == "single" else plan.register_role.upper()
    return RegisterPart(
        role=plan.register_role,
        tag=tag,
        meter_serial=printable(plan.meter_serial),
        heading=f"{tag} register" if tag else "Meter",
        facts=_facts(plan, titles),
        keyed=_keyed(plan),
        key_note=cut(plan.index_note, LONGEST_NOTE),
        start=start_boxes(dial, index, example=plan.start_example_dial) if dial and index else None,
        proof=_proof(plan),
        dial_positions=dial.positions if dial else 0,
        painted=plan.fixed_zeros if dial else 0,
        index_digits=index.digits if index else 0,
    )


def _facts(plan: RegisterPlan, titles: Mapping[str, str]) -> tuple[Fact, ...]:
    """Say what the register is and where it goes."""
    kind = ", ".join(part for part in (words_of(plan.meter_type), plan.meter_size) if part)
    dial = plan.dial
    face = f"{dial.face}, {UNIT_WORDS[dial.unit]} ({dial.unit})" if dial else ""
    weight = amount(plan.pulse_weight, plan.pulse_unit)
    output = cut(titles.get(plan.output, plan.output))
    goes = ""
    if plan.port is not None:
        goes = f"endpoint {plan.endpoint_number or 1}, port {plan.port}"
    return (
        Fact("Type and size", cut(kind)),
        Fact("Dial", face),
        Fact("One pulse", weight),
        Fact("Output", output),
        Fact("Goes to", goes),
    )


def _keyed(plan: RegisterPlan) -> tuple[Fact, ...]:
    """Say what is keyed into the endpoint."""
    facts = [
        Fact("Pulse weight", number(plan.weight_set), True),
        Fact("Unit", plan.weight_unit, True),
        Fact("Index digits", number(plan.index_digits), True),
        Fact("Index counts steps of", amount(plan.index_resolution, plan.index_unit), True),
    ]
    if plan.pull_up_ohm is not None:
        facts.append(Fact("Pull-up", _ohms(plan.pull_up_ohm), True))
    if plan.debounce_ms is not None:
        facts.append(Fact("Filter", f"{plan.debounce_ms:g} ms", True))
    return tuple(facts)


def _ohms(ohms: float) -> str:
    """Write a resistance with the prefix that people use."""
    for factor, prefix in ((1e6, "M"), (1e3, "k")):
        if ohms >= factor:
            return f"{ohms / factor:g} {prefix}ohm"
    return f"{ohms:g} ohm"


def _proof(plan: RegisterPlan) -> Proof | None:
    """Say how the register is proved, or None where the plan has no proof."""
    if not plan.proof_kind:
        return None
    facts = [Fact("How", _HOW.get(plan.proof_kind, plan.proof_kind))]
    if plan.proof_volume != 0:
        facts.append(Fact(_MOST_DRAWN.get(plan.proof_kind, "Draw"), amount(plan.proof_volume, plan.dial_unit), True))
    if plan.proof_minutes:
        facts.append(Fact("Takes", _flow(plan)))
    facts.append(Fact("Accept", _band(plan), True))
    told = plan.proof_note.partition(_SECOND_READ)[0].rstrip() if plan.follow_up_days else plan.proof_note
    notes = [cut(told, LONGEST_NOTE)] if told else []
    if plan.register_role == "low":
        notes.append("Draw 1: open one tap only. HIGH must stand still, dial and index.")
    elif plan.register_role == "high":
        notes.append("Draw 2: open wide until the HIGH dial turns.")
    if plan.proof_high_flow and "hose" not in plan.proof_note:
        notes.append("A hose cannot prove this meter: draw once near its greatest flow, or say why not.")
    return Proof(tuple(facts), tuple(notes))


def _flow(plan: RegisterPlan) -> str:
    """Say how long the draw takes, and at what flow."""
    minutes = plan.proof_minutes or 0.0
    if minutes < 1:
        return "under a minute"  # too short for the plan's tenths to give the flow
    said = f"about {minutes:.2g} minutes" if minutes < 10 else f"about {minutes:.0f} minutes"
    if plan.proof_volume is None or not plan.dial_unit:
        return said
    flow_l = float(convert(plan.proof_volume, plan.dial_unit, "L")) / minutes
    us = plan.dial_unit not in ("L", "m3")
    rate, unit = (flow_l / 3.785411784, "gal/min") if us else (flow_l, "L/min")
    return f"{said} at {rate:.2g} {unit}" if rate < 10 else f"{said} at {rate:.0f} {unit}"


def _band(plan: RegisterPlan) -> str:
    """Say which step of the index is accepted, in counts and in volume."""
    low, high = plan.proof_counts_low, plan.proof_counts_high
    if low is None or high is None:
        return ""
    counts = f"{low:,}" if low == high else f"{low:,} to {high:,}"
    said = f"index + {counts}"
    if plan.index_resolution is None or not plan.index_unit:
        return said
    if plan.index_resolution == 1:
        return f"{said} {plan.index_unit}"
    ends = [number(Fraction(plan.index_resolution) * end) for end in dict.fromkeys((low, high))]
    return f"{said} ({' to '.join(ends)} {plan.index_unit})"
