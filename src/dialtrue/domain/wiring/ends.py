"""What is joined: leads of the meter, conductors of the cable, terminals of the port, and how each is called."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

Sure = Literal["declared", "usual", ""]
"""How well a colour is known: from the sheet, from common practice, not at all."""
Place = Literal["meter", "endpoint"]

LEAD_WORDS: Final = {
    "contact-1": "contact 1",
    "contact-2": "contact 2",
    "common": "common",
    "normally-open": "normally open",
    "normally-closed": "normally closed",
    "pulse+": "pulse +",
    "pulse-": "pulse −",
    "loop-1": "loop 1",
    "loop-2": "loop 2",
    "spare": "spare",
}
TERMINAL_WORDS: Final = {
    "pulse+": "pulse +",
    "pulse-": "pulse −",
    "loop-out": "loop out",
    "loop-back": "loop back",
    "screen": "screen",
}
ROLE_WORDS: Final = {"single": "meter", "high": "high register", "low": "low register"}
BY_TEST: Final = "by test"


def said_colour(colour: str, sure: Sure) -> str:
    """Return a colour as it may be relied on: ``red``, ``usually red`` or ``by test``."""
    if not colour:
        return BY_TEST
    return f"usually {colour}" if sure == "usual" else colour


@dataclass(frozen=True, slots=True)
class Lead:
    """A lead of the meter's output; ``number`` tells leads of one role apart."""

    role: str
    colour: str = ""
    sure: Sure = ""
    number: int = 1

    @property
    def id(self) -> str:
        """Return the name that connections use."""
        return f"lead:{self.role}" if self.number == 1 else f"lead:{self.role}-{self.number}"

    @property
    def name(self) -> str:
        """Return what a technician calls it."""
        return LEAD_WORDS[self.role] + ("" if self.number == 1 else f" {self.number}")

    @property
    def said(self) -> str:
        """Return name and colour."""
        return f"lead {self.name} ({said_colour(self.colour, self.sure)})"


@dataclass(frozen=True, slots=True)
class Conductor:
    """A conductor of the cable, with an end at the meter and one at the endpoint."""

    number: int
    colour: str = ""
    sure: Sure = ""

    @property
    def id(self) -> str:
        """Return the name of the whole wire."""
        return f"conductor:{self.number}"

    def end(self, place: Place) -> str:
        """Return the name of one of its ends."""
        return f"{self.id}@{place}"

    @property
    def said(self) -> str:
        """Return number and colour; the number is ours and goes on a tag, no cable prints it."""
        return f"conductor {self.number} ({said_colour(self.colour, self.sure)})"


@dataclass(frozen=True, slots=True)
class Terminal:
    """A terminal of a port, by function; ``label`` as the sheet says it is printed."""

    function: str
    port: int
    label: str = ""

    @property
    def id(self) -> str:
        """Return the name that connections use."""
        return f"terminal:{self.function}"

    @property
    def name(self) -> str:
        """Return what it does."""
        return TERMINAL_WORDS[self.function]

    @property
    def said(self) -> str:
        """Return function, printed label and port."""
        printed = f" (printed {self.label})" if self.label else ""
        return f"terminal {self.name}{printed} of port {self.port}"


@dataclass(frozen=True, slots=True)
class Bridge:
    """A short wire at the endpoint: the ``jumper`` that closes a loop, or the ``tail`` that shares a terminal."""

    kind: Literal["jumper", "tail"]

    @property
    def ends(self) -> tuple[str, str]:
        """Return the names of its two ends."""
        return f"{self.kind}@1", f"{self.kind}@2"


@dataclass(frozen=True, slots=True)
class Connection:
    """Wire ends that are joined: in a splice, under a terminal, or a single one that is capped or cut back."""

    kind: Literal["splice", "terminal", "cap", "cut-back"]
    at: Place
    ends: tuple[str, ...]


SCREEN_ENDS: Final = ("screen@meter", "screen@endpoint")
