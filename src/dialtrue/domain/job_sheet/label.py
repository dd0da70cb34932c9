"""Labels: one for each endpoint port, two for each cable, on a grid that the programme declares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.errors import LabelGridUnfit
from dialtrue.domain.job_sheet.code_text import code_text
from dialtrue.domain.job_sheet.register_plan import RegisterPlan
from dialtrue.domain.words import printable

PAPER_MM: Final[dict[str, tuple[float, float]]] = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
"""Width and height of the papers. [mm]"""
LEAST_LABEL_MM: Final = (45.0, 20.0)
"""Least width and height of a label. [mm] Our assumption: a QR code, a serial and a word at readable sizes."""
CABLE_ENDS: Final = ("meter end", "endpoint end")


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelGrid:
    """Where the labels lie on their sheet. [mm]

    Parameters
    ----------
    paper : str
        ``letter``, ``a4``, or ``single``: each label is a page of its own size, for a printer with a roll.
    columns, rows : int
        Labels across and down. [1 or more]
    width_mm, height_mm : float
        Of one label.
    left_mm, top_mm : float
        From the paper's edge to the first label.
    step_x_mm, step_y_mm : float
        From one label's edge to the next one's.

    Raises
    ------
    LabelGridUnfit
        Labels are too small, overlap, or do not lie on the paper.

    Source
    ------
    The sheet in the programme's hands; the shipped grids are our assumption, override them by ``[labels]``.
    """

    paper: str
    columns: int
    rows: int
    width_mm: float
    height_mm: float
    left_mm: float
    top_mm: float
    step_x_mm: float
    step_y_mm: float

    def __post_init__(self) -> None:
        if self.width_mm < LEAST_LABEL_MM[0] or self.height_mm < LEAST_LABEL_MM[1]:
            raise LabelGridUnfit(
                what=f"a label is {self.width_mm:g} by {self.height_mm:g} mm; at least {LEAST_LABEL_MM[0]:g} by "
                f"{LEAST_LABEL_MM[1]:g} mm are needed"
            )
        if self.paper == "single":
            return
        for count, step, size, start, room, way in (
            (self.columns, self.step_x_mm, self.width_mm, self.left_mm, PAPER_MM[self.paper][0], "across"),
            (self.rows, self.step_y_mm, self.height_mm, self.top_mm, PAPER_MM[self.paper][1], "down"),
        ):
            if count > 1 and step < size:
                raise LabelGridUnfit(what=f"labels of {size:g} mm overlap {way}: they are {step:g} mm apart")
            reach = start + (count - 1) * step + size
            if reach > room + 0.05:
                raise LabelGridUnfit(what=f"{count} labels {way} reach {reach:g} mm on a paper of {room:g} mm")

    @property
    def page_mm(self) -> tuple[float, float]:
        """Width and height of a page. [mm]"""
        return (self.width_mm, self.height_mm) if self.paper == "single" else PAPER_MM[self.paper]

    @property
    def on_a_page(self) -> int:
        """Labels on a page. [1 or more]"""
        return 1 if self.paper == "single" else self.columns * self.rows


SHIPPED_GRIDS: Final[dict[str, LabelGrid]] = {
    "letter": LabelGrid(
        paper="letter", columns=3, rows=10, width_mm=66.7, height_mm=25.4, left_mm=4.8, top_mm=12.7, step_x_mm=69.8,
        step_y_mm=25.4,
    ),
    "a4": LabelGrid(
        paper="a4", columns=3, rows=8, width_mm=63.5, height_mm=33.9, left_mm=7.2, top_mm=12.9, step_x_mm=66.0,
        step_y_mm=33.9,
    ),
    "single": LabelGrid(
        paper="single", columns=1, rows=1, width_mm=76.0, height_mm=25.0, left_mm=0.0, top_mm=0.0, step_x_mm=76.0,
        step_y_mm=25.0,
    ),
}  # fmt: skip
"""Grids in use where the programme declares none. Our assumption: common sheets of thirty and of twenty-four labels."""


@dataclass(frozen=True, slots=True)
class Label:
    """One label.

    ``kind`` is ``endpoint`` or ``cable``; ``end`` the end of a cable. ``tag`` is HIGH, LOW or blank. A cable's label is
    printed twice on either side of a fold. ``bar_text`` goes into the bar code of an endpoint's label.
    """

    kind: str
    end: str
    tag: str
    site: str
    meter_serial: str
    place: str
    bar_text: str
    qr_text: str


def labels_for(registers: Sequence[RegisterPlan]) -> tuple[Label, ...]:
    """Return the labels of some registers: the port's, the cable's at the meter, the cable's at the endpoint.

    Parameters
    ----------
    registers : sequence of RegisterPlan
        In the order of the labels wanted; those without a planned port are left out.

    Returns
    -------
    tuple of Label
        Three for each register with a port.

    Raises
    ------
    Never raises.

    Source
    ------
    ``FIELD-PRACTICE``: HIGH and LOW, and both ends of every cable, are labelled before the second cable is opened.
    """
    labels: list[Label] = []
    for plan in registers:
        if plan.port is None:
            continue
        serial = printable(plan.meter_serial)
        tag = "" if plan.register_role == "single" else plan.register_role.upper()
        place = f"port {plan.port}"
        if plan.endpoint_number is not None and plan.endpoint_number > 1:
            place = f"endpoint {plan.endpoint_number}, {place}"
        for kind, end in (("endpoint", ""), *(("cable", end) for end in CABLE_ENDS)):
            text = code_text(
                site=plan.site, meters=(serial,), role=plan.register_role, port=plan.port, end=end.partition(" ")[0]
            )
            bars = serial if kind == "endpoint" else ""
            labels.append(Label(kind, end, tag, printable(plan.site), serial, place, bars, text))
    return tuple(labels)
