"""The pictures behind one verdict, in the order in which they convince, in the dial's unit and with its moments."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from dialtrue.domain.evidence_picture import EvidencePicture, Mark, Series, in_unit
from dialtrue.domain.explanation import BlockSay
from dialtrue.domain.figure_words import number_text
from dialtrue.domain.quantity import litres_per
from dialtrue.domain.watch_result import PortTrace
from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.evidence.pictures import BLOCK_PICTURES, daily_picture, size_picture

ALWAYS_SHOWN = ("pairs", "granularity", "weather", "clock", "neighbours")
SHOWN_FROM_BITS = 1.0
"""A block's picture is shown where it says at least this much, beside those that are always shown. Our assumption:
one bit doubles the odds. [bit]"""


def pictures_of(case: Case, row: int, trace: PortTrace, says: tuple[BlockSay, ...]) -> tuple[EvidencePicture, ...]:
    """Draw up every picture of one port.

    Parameters
    ----------
    case : Case
    row : int
        Row of the fleet.
    trace : PortTrace
        The series of that row, for its unit, onset and wet hours.
    says : tuple of BlockSay
        What the blocks said, for the order and the choice.

    Returns
    -------
    tuple of EvidencePicture
        Dial and index first, then each block that has something to show.

    Raises
    ------
    Never raises.
    """
    unit = trace.dial_unit
    loud = [item.block for item in says if abs(item.bits_to_other) >= SHOWN_FROM_BITS]
    wanted = [name for name in BLOCK_PICTURES if name in ALWAYS_SHOWN or name in loud]
    drawn = [BLOCK_PICTURES[name](case, row) for name in wanted]
    drawn.insert(1, daily_picture(case, row))
    drawn.insert(3, size_picture(case, row))
    shown = [in_unit(picture, unit, float(litres_per(unit))) for picture in drawn if picture is not None]
    course = dial_index_picture(trace)
    return tuple(_marked(picture, trace) for picture in ([course] if course is not None else []) + shown)


def dial_index_picture(trace: PortTrace) -> EvidencePicture | None:
    """Show the dial as points and the index as a line since the fitting; None where there is neither."""
    seen = [point for point in trace.dial_points if point.dial_volume is not None]
    series = []
    if trace.index_at:
        series.append(Series(name="index", unit=trace.dial_unit, x=trace.index_at, y=trace.index_volume))
    if seen:
        x, y = tuple(point.at for point in seen), tuple(point.dial_volume for point in seen)
        series.append(Series(name="dial", unit=trace.dial_unit, x=x, y=y, kind="points"))
    if not series:
        return None
    unit = trace.dial_unit
    index = (
        f"the index has moved {number_text(trace.index_volume[-1], digits=6)} {unit}"
        if trace.index_at
        else "there is no index"
    )
    dial = seen[-1].dial_volume if seen else None
    last = "no dial was read" if dial is None else f"the dial {number_text(dial, digits=6)} {unit} up to the last look"
    return EvidencePicture(
        title="Dial and index since the fitting", kind="line", series=tuple(series), zero=True,
        caption=f"Since the fitting {index}; {last}.",
    )  # fmt: skip


def _marked(picture: EvidencePicture, trace: PortTrace) -> EvidencePicture:
    """Add the moments that every picture over time shows: onset with its interval, and wet hours where water is."""
    first = next((series.x[0] for series in picture.series if series.x), None)
    if not isinstance(first, dt.datetime) or picture.kind == "table":
        return picture
    marks: list[Mark] = []
    if picture.series[0].unit.startswith(trace.dial_unit):
        marks += [Mark("wet hours", "band", "wet", begin, end) for begin, end in trace.wet_spans]
    if trace.since is not None:
        if trace.since_low is not None and trace.since_high is not None and trace.since_low < trace.since_high:
            marks.append(Mark("since, 90 %", "band", "onset", trace.since_low, trace.since_high))
        marks.append(Mark("since", "moment", "onset", trace.since))
    span = (trace.index_at[0], trace.index_at[-1]) if trace.index_at else None
    return replace(picture, marks=(*marks, *picture.marks), span=span)
