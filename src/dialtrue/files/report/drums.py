"""The lined-up dial and index of one finding, as a figure of the report."""

from __future__ import annotations

from dialtrue.domain.trace_picture import picture_of
from dialtrue.domain.watch_result import PortTrace
from dialtrue.domain.words import day_text, printable
from dialtrue.files.drum_picture import drum_svg
from dialtrue.files.report.markup import safe


def drums_figure(trace: PortTrace) -> str:
    """Return the picture with its sentence below, or nothing where no dial read has an index beside it."""
    picture = picture_of(trace)
    if picture is None:
        return ""
    day = day_text(picture.point.at)
    title = printable(f"Dial and index of meter {trace.meter_serial} on {day}")
    drawn = drum_svg(picture.lined_up, title=title)
    when = f"At the fitting, {day}; no dial has been read since." if picture.at_fitting else f"Seen {day}."
    said = f"{when} {picture.lined_up.sentence}"
    return f'<figure><div class="lined">{drawn}</div><figcaption>{safe(said)}</figcaption></figure>'
