"""Labels as PDF on the programme's grid, every code of known size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from dialtrue.domain.job_sheet.label import Label, LabelGrid
from dialtrue.files.job_sheets.codes import CodePicture, bar_code, qr_code
from dialtrue.files.job_sheets.setting import Template

_BAR_HEIGHT_MM = 6.5
_QR_SHARE = 0.74


@dataclass(frozen=True, slots=True)
class SetLabels:
    """A PDF, how many labels it holds, and the serials that have a QR code only, for want of room or of characters."""

    pdf: bytes
    labels: int
    without_bars: tuple[str, ...]
    not_shown: str = ""


def labels_pdf(labels: Sequence[Label], grid: LabelGrid, *, title: str = "Labels") -> SetLabels:
    """Set labels as one PDF.

    Parameters
    ----------
    labels : sequence of Label
        One or more, in order.
    grid : LabelGrid
        Where they lie on the paper.
    title : str
        The document's title.

    Returns
    -------
    SetLabels
        The bytes are the same for the same labels.

    Raises
    ------
    ExtraMissing
        typst or segno is not installed.

    Source
    ------
    Our own look; sizes of modules in ``files.job_sheets.codes``.
    """
    codes: list[dict[str, Any]] = []
    without: dict[str, None] = {}

    def kept(picture: CodePicture) -> int:
        codes.append(asdict(picture))
        return len(codes) - 1

    rows = []
    for label in labels:
        row = asdict(label)
        room = (
            grid.height_mm * _QR_SHARE if label.kind == "endpoint" else min(grid.height_mm * 0.66, grid.width_mm * 0.27)
        )
        picture = qr_code(label.qr_text, most_mm=room)
        row["qr"], row["qr_mm"] = kept(picture), picture.width_mm
        row["bar"], row["note"] = None, ""
        if label.bar_text:
            bars = bar_code(label.bar_text, most_mm=grid.width_mm - picture.width_mm - 4.0, height_mm=_BAR_HEIGHT_MM)
            if bars.kind == "bar":
                row["bar"] = kept(bars)
            else:
                row["note"] = "QR code only: no room for bars" if picture.svg else picture.note
                without[label.meter_serial] = None
        rows.append(row)
    data = {
        "title": title,
        "labels": rows,
        "codes": codes,
        "grid": {**asdict(grid), "on_a_page": grid.on_a_page},
        "page_mm": list(grid.page_mm),
    }
    pdf, not_shown = Template("labels.typ").pdf(data)
    return SetLabels(pdf, len(rows), tuple(without), not_shown)
