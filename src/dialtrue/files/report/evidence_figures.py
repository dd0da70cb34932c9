"""Draw the picture of a block of evidence: inline SVG for desk and phone, its caption, and its figures as a table."""

from __future__ import annotations

import datetime as dt
from typing import Final

from dialtrue.domain.evidence_picture import EvidencePicture, Place, picture_rows
from dialtrue.domain.words import counted, day_text
from dialtrue.files.report.evidence_axes import figure_text
from dialtrue.files.report.evidence_bars import draw_bars
from dialtrue.files.report.evidence_plane import draw_plane
from dialtrue.files.report.markup import safe, table

WIDE: Final = (720, 230, 13)
NARROW: Final = (320, 210, 12)
"""Width, height and letter size in pixels, for a desk and for a phone."""
TABLE_ROWS: Final = 1_000


def evidence_figure(picture: EvidencePicture, identity: str, *, legend: bool = True) -> str:
    """Return a picture as one figure of a page.

    Parameters
    ----------
    picture : EvidencePicture
        What to draw.
    identity : str
        Unique on the page; a word of letters, digits and hyphens.
    legend : bool
        Say below what bands and hairline mean; once on a page is enough.

    Returns
    -------
    str
        ``<figure>`` with a drawing for each width, the caption, and the figures as a table behind a fold. A picture of
        kind "table" is its table. Series are told apart by shape, dash and name, never by colour alone.

    Raises
    ------
    Never raises.

    Source
    ------
    Our own look: direct labels, thin rules, zero shown where zero matters.
    """
    if picture.kind == "table":
        return f'<figure id="{identity}">{_table(picture)}<figcaption>{safe(picture.caption)}</figcaption></figure>'
    rows = counted(len(picture_rows(picture)[1]), "row")
    return (
        f'<figure id="{identity}">{evidence_drawing(picture, identity)}'
        f"<figcaption>{safe(picture.caption)}{safe(_legend(picture, legend))}</figcaption>"
        f"<details><summary>{safe(picture.title)} in figures ({rows})</summary>{_table(picture)}</details></figure>"
    )


def evidence_drawing(picture: EvidencePicture, identity: str) -> str:
    """Return the drawing alone, one for each width; whoever places it gives the figures as a table beside it."""
    drawings = ""
    for (width, height, font), kind in ((WIDE, "wide"), (NARROW, "narrow")):
        draw = draw_bars if _by_name(picture) else draw_plane
        body, tall = draw(picture, width, height, font)
        names = f"{identity}-{kind}"
        drawings += (
            f'<svg class="{kind}" role="img" aria-labelledby="{names}-t {names}-d" viewBox="0 0 {width} {tall:g}" '
            f'font-size="{font}"><title id="{names}-t">{safe(picture.title)}</title>'
            f'<desc id="{names}-d">{safe(picture.caption)} The figures stand in the table below.</desc>{body}</svg>'
        )
    return f'<div class="chart evidence">{drawings}</div>'


def _by_name(picture: EvidencePicture) -> bool:
    """Say whether a picture is bars by name, which lie, rather than bars over time or numbers, which stand."""
    return picture.kind == "bars" and isinstance(next((x for series in picture.series for x in series.x), ""), str)


def _legend(picture: EvidencePicture, whole: bool) -> str:
    """Say in words what the bands, the hairline and the bars of a point mean."""
    said = ""
    if picture.kind == "points" and any(series.low for series in picture.series):
        said += " The bar of a point is its reading noise."
    spans = [mark.name for mark in picture.marks if mark.kind == "band" and mark.role not in ("wet", "onset")]
    if spans:
        said += f" Framed bands: {', '.join(dict.fromkeys(spans))}."
    if not whole:
        return said
    if any(mark.role == "wet" for mark in picture.marks):
        said += " Shaded bands are wet hours."
    moment = next((mark for mark in picture.marks if mark.kind == "moment" and mark.role == "onset"), None)
    if moment is not None and isinstance(moment.start, dt.datetime):
        said += f" The upright line marks {day_text(moment.start)}, the onset"
        band = next((mark for mark in picture.marks if mark.kind == "band" and mark.role == "onset"), None)
        if band is not None and isinstance(band.start, dt.datetime) and isinstance(band.end, dt.datetime):
            said += f"; the hatched band, {day_text(band.start)} to {day_text(band.end)}, holds it nine times in ten"
        said += "."
    return said


def _table(picture: EvidencePicture) -> str:
    """Print the figures of a picture."""
    heading, rows = picture_rows(picture)
    cells = [tuple(safe(_cell(value)) for value in row) for row in rows[:TABLE_ROWS]]
    if len(rows) > TABLE_ROWS:
        cells.append((f"and {len(rows) - TABLE_ROWS:,} more", *("" for _ in heading[1:])))
    return table(heading, cells, caption=picture.title, right=range(1, len(heading)))


def _cell(value: Place) -> str:
    if isinstance(value, dt.datetime):
        midnight = (value.hour, value.minute) == (0, 0)
        return day_text(value) if midnight else f"{day_text(value)} {value:%H:%M}"
    return value if isinstance(value, str) else figure_text(value)
