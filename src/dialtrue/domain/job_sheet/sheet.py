"""One site on one page: what is printed, in the order the hands work. Words stand here, layout in the files."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from dialtrue.domain.cautions import Caution
from dialtrue.domain.job_sheet.start_boxes import StartBoxes

SECTIONS: Final = ("Find", "Heed", "Take", "Wire", "Key", "Prove", "Leave")
"""Titles of the seven parts, in the order the hands work."""


@dataclass(frozen=True, slots=True)
class Fact:
    """A label and what stands beside it; ``digits`` asks for the monospaced face. A blank text is to be filled in."""

    label: str
    text: str
    digits: bool = False


@dataclass(frozen=True, slots=True)
class Blank:
    """Something to be written in: its label and how many positions it has, 0 for a free line."""

    label: str
    positions: int = 0


@dataclass(frozen=True, slots=True)
class Choice:
    """A choice to tick: the options in order and which of them is planned (blank: none)."""

    label: str
    options: tuple[str, ...]
    planned: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class PartLine:
    """One part: how much of what."""

    quantity: str
    unit: str
    title: str


@dataclass(frozen=True, slots=True)
class Stop:
    """The visit as the route has it."""

    text: str
    day: str
    crew: str


@dataclass(frozen=True, slots=True)
class Proof:
    """How one register is proved: the figures, and what else to heed."""

    facts: tuple[Fact, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RegisterPart:
    """One column of the page: a register, its settings, its start index and its proof.

    ``role`` is ``single``, ``high`` or ``low``; ``tag`` the word that is printed large, blank for a single register.
    ``key_note`` is what must be known of the index.
    ``dial_positions`` and ``painted`` shape the boxes for readings, ``index_digits`` those of the index (0: not known).
    """

    role: str
    tag: str
    meter_serial: str
    heading: str
    facts: tuple[Fact, ...]
    keyed: tuple[Fact, ...]
    start: StartBoxes | None
    key_note: str
    proof: Proof | None
    dial_positions: int
    painted: int
    index_digits: int


@dataclass(frozen=True, slots=True)
class WiringPart:
    """One wiring drawing and what it is of; ``drawing`` is SVG, blank where none can be drawn (``note`` says why)."""

    title: str
    drawing: str
    description: str
    note: str


@dataclass(frozen=True, slots=True)
class Check:
    """A thing to tick; ``common_practice`` marks what no document asks for."""

    text: str
    common_practice: bool = False


@dataclass(frozen=True, slots=True)
class JobSheet:
    """The sheet of one site, or one page of it where a site has more than two registers.

    ``status`` is ``planned`` or ``ask``. ``page`` and ``pages`` count pages of this site. ``site_code`` is the text of
    the QR code, ``serial_codes`` those of the bar codes, each once. ``readings`` are the moments at which every dial
    and index of the page is read.
    """

    site: str
    status: str
    page: int
    pages: int
    stop: Stop | None
    where: tuple[Fact, ...]
    registers: tuple[RegisterPart, ...]
    together: str
    questions: tuple[str, ...]
    precedence: str
    cautions: tuple[Caution, ...]
    parts: tuple[PartLine, ...]
    wiring: tuple[WiringPart, ...]
    terminations: tuple[Check, ...]
    readings: tuple[str, ...]
    tamper: tuple[Choice, ...]
    as_left: tuple[Check, ...]
    blanks: tuple[Blank, ...]
    follow_up: str
    site_code: str
    serial_codes: tuple[str, ...]

    @property
    def title(self) -> str:
        """The page's title."""
        of = f", page {self.page} of {self.pages}" if self.pages > 1 else ""
        return f"Site {self.site}{of}"
