"""What a data sheet may declare of wires: the leads of an output, the terminals of an input, the colours of a cable."""

from __future__ import annotations

import difflib
from collections import Counter
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.errors import FigureRange

COLOURS: Final = (
    "black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white", "pink", "turquoise",
    "clear", "tan",
)  # fmt: skip
"""Names of insulation colours. A stripe is written after a stroke: ``white/blue`` is white with a blue stripe.
Source: ``IEC-60757`` names all but the last two."""

POLAR_ROLES: Final = ("pulse+", "pulse-")
LEAD_ROLES: Final[dict[str, tuple[str, ...]]] = {
    "dry_contact": ("contact-1", "contact-2"),
    "changeover": ("common", "normally-open", "normally-closed"),
    "open_drain": POLAR_ROLES,
    "open_collector": POLAR_ROLES,
    "push_pull": POLAR_ROLES,
    "s0_class_a": POLAR_ROLES,
    "s0_class_b": POLAR_ROLES,
    "current_sensor": POLAR_ROLES,
    "not_known": (),
}
"""Leads that each kind of output has; every one of them must be found. Source: definition of the kinds."""
LOOP_LEADS: Final = ("loop-1", "loop-2")
"""The two ends of a bridge inside the register, where it has one for the tamper loop."""
SPARE: Final = "spare"
"""A lead that is not used here (direction, second contact); it is capped."""

PULSE_TERMINALS: Final = ("pulse+", "pulse-")
LOOP_TERMINALS: Final[dict[str, tuple[str, ...]]] = {
    "none": (),
    "two_wire": ("loop-out", "loop-back"),
    "shared": ("loop-out",),
}
"""Terminals of the tamper loop; a shared loop comes back over pulse -. Source: definition."""
SCREEN: Final = "screen"
LONGEST_LABEL: Final = 12
"""Most characters of a printed label. Our assumption: what can be read on the drawing at arm's length."""


@dataclass(frozen=True, slots=True)
class SheetLead:
    """A lead of an output: its role, and its colour where the sheet gives one ("" = find it by test)."""

    role: str
    colour: str = ""


@dataclass(frozen=True, slots=True)
class SheetTerminal:
    """A terminal of an input by function; ``label`` as printed beside it, ``{port}`` stands for the port's number."""

    function: str
    label: str = ""


def check_colour(colour: str, *, thing: str, name: str) -> None:
    """Raise FigureRange where a colour is not in ``COLOURS``; "" passes, it means not declared."""
    for part in colour.split("/") if colour else ():
        if part not in COLOURS:
            near = difflib.get_close_matches(part, COLOURS, n=2, cutoff=0.4) or COLOURS
            raise FigureRange(
                thing=thing,
                name=name,
                value=repr(colour),
                expected=f"a colour such as {', '.join(near)}, or white/blue",
            )
    if colour.count("/") > 1:
        raise FigureRange(thing=thing, name=name, value=repr(colour), expected="one colour, or one with one stripe")


def check_leads(leads: tuple[SheetLead, ...], kind: str, *, thing: str) -> None:
    """Check the declared leads of an output against its kind.

    Parameters
    ----------
    leads : tuple of SheetLead
        As declared; none at all means that the sheet is silent.
    kind : str
        A key of ``LEAD_ROLES``.
    thing : str
        The sheet, for the error.

    Raises
    ------
    FigureRange
        A role that the kind does not have, one missing or declared twice, or a colour that is no colour.

    Source
    ------
    Definition.
    """
    if not leads:
        return
    needed = LEAD_ROLES[kind]
    roles = Counter(lead.role for lead in leads)
    for role, count in roles.items():
        if role not in (*needed, *LOOP_LEADS, SPARE) or (count > 1 and role != SPARE):
            allowed = "each once: " + ", ".join((*needed, *LOOP_LEADS)) + f"; {SPARE} as often as needed"
            raise FigureRange(thing=thing, name="leads", value=repr(role), expected=allowed)
    missing = [role for role in needed if role not in roles]
    if 0 < sum(role in roles for role in LOOP_LEADS) < len(LOOP_LEADS):
        missing += [role for role in LOOP_LEADS if role not in roles]
    if missing:
        raise FigureRange(thing=thing, name="leads", value="incomplete", expected=f"complete; add {', '.join(missing)}")
    for lead in leads:
        check_colour(lead.colour, thing=thing, name="leads")


def check_terminals(terminals: tuple[SheetTerminal, ...], tamper_loop: str, *, thing: str) -> None:
    """Check the declared terminals of an input against its tamper loop.

    Parameters
    ----------
    terminals : tuple of SheetTerminal
        As declared; none at all means that the sheet is silent.
    tamper_loop : str
        A key of ``LOOP_TERMINALS``.
    thing : str
        The sheet, for the error.

    Raises
    ------
    FigureRange
        A function that such an input does not have, one missing or declared twice.

    Source
    ------
    Definition.
    """
    if not terminals:
        return
    needed = (*PULSE_TERMINALS, *LOOP_TERMINALS[tamper_loop])
    functions = Counter(terminal.function for terminal in terminals)
    for function, count in functions.items():
        if function not in (*needed, SCREEN) or count > 1:
            allowed = f"each once, with tamper_loop = {tamper_loop!r}: {', '.join((*needed, SCREEN))}"
            raise FigureRange(thing=thing, name="terminals", value=repr(function), expected=allowed)
    for terminal in terminals:
        if len(terminal.label.replace("{port}", "1")) > LONGEST_LABEL:
            expected = f"at most {LONGEST_LABEL} characters, as printed beside the terminal"
            raise FigureRange(thing=thing, name="terminals", value=repr(terminal.label), expected=expected)
    missing = [function for function in needed if function not in functions]
    if missing:
        expected = f"complete; add {', '.join(missing)}"
        raise FigureRange(thing=thing, name="terminals", value="incomplete", expected=expected)


def check_conductors(colours: tuple[str, ...], pairs: tuple[int, ...], conductors: int, *, thing: str) -> None:
    """Check colours and pairs of a cable against its number of conductors.

    Parameters
    ----------
    colours : tuple of str
        One for each conductor, each only once; none at all means that the sheet is silent.
    pairs : tuple of int
        The pair that each conductor is twisted in; none at all: not said.
    conductors : int
        How many there are.
    thing : str
        The sheet, for the error.

    Raises
    ------
    FigureRange
        A list of another length, a colour that stands twice or is no colour, or a pair of more or fewer than two.

    Source
    ------
    Definition.
    """
    for name, held in (("colours", colours), ("pairs", pairs)):
        if held and len(held) != conductors:
            expected = f"one for each of the {conductors} conductors"
            raise FigureRange(thing=thing, name=name, value=f"{len(held)} entries", expected=expected)
    for colour in colours:
        check_colour(colour, thing=thing, name="colours")
    twice = [colour for colour, count in Counter(colours).items() if colour and count > 1]
    if twice:
        raise FigureRange(thing=thing, name="colours", value=repr(twice[0]), expected="on one conductor only")
    odd = [pair for pair, count in Counter(pairs).items() if count != 2]
    if odd:
        raise FigureRange(thing=thing, name="pairs", value=odd[0], expected="the number of a pair, on two conductors")
