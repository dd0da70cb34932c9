"""QR codes and bar codes as drawings of known size, with the text in print beside them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from dialtrue.domain.code128 import QUIET_MODULES, code128
from dialtrue.domain.errors import ExtraMissing
from dialtrue.domain.words import printable

WIDE_MODULE_MM: Final = 0.38
NARROW_MODULE_MM: Final = 0.25
"""Wished and least width of a bar code's module. [mm] Our assumption: 0.25 mm is three dots of a 300 dpi printer, and a
phone reads 0.38 mm at arm's length."""
QR_MODULE_MM: Final = 0.5
LEAST_QR_MODULE_MM: Final = 0.35
QR_QUIET_MODULES: Final = 4
BAR_HEIGHT_MM: Final = 8.0


@dataclass(frozen=True, slots=True)
class CodePicture:
    """One code: ``kind`` is ``bar``, ``qr`` or blank where no code can be drawn; ``note`` says what was done instead.

    ``svg`` draws black on white with its quiet zone, to be shown ``width_mm`` by ``height_mm``. ``text`` is what a
    reader gives back, ``alt`` what a screen reader says.
    """

    kind: str
    text: str
    svg: str
    width_mm: float
    height_mm: float
    alt: str
    note: str = ""


@lru_cache(maxsize=4096)
def bar_code(text: str, *, most_mm: float, height_mm: float = BAR_HEIGHT_MM) -> CodePicture:
    """Draw a text as Code 128, or as a QR code where the bars would be too fine or the text is not plain ASCII.

    Parameters
    ----------
    text : str
        What to encode.
    most_mm, height_mm : float
        Room for the bars with their quiet zones, and their height. [mm, > 0]

    Returns
    -------
    CodePicture
        ``note`` says why where it is not a bar code.

    Raises
    ------
    ExtraMissing
        A QR code is needed and its library is not installed.

    Source
    ------
    ``ISO-15417`` for the bars; widths are our assumption, see ``NARROW_MODULE_MM``.
    """
    symbol = code128(text)
    if symbol is None:
        why = "bars carry plain letters and digits only: QR code instead" if text else "nothing to encode"
        return qr_code(text, most_mm=most_mm, note=why) if text else CodePicture("", text, "", 0.0, 0.0, "", why)
    modules = symbol.modules + 2 * QUIET_MODULES
    module_mm = min(WIDE_MODULE_MM, most_mm / modules)
    if module_mm < NARROW_MODULE_MM:
        return qr_code(text, most_mm=most_mm, note="too long for bars at this width: QR code instead")
    path, x, black = [], QUIET_MODULES, True
    for width in symbol.bars:
        if black:
            path.append(f"M{x} 0h{width}v1h-{width}z")
        x, black = x + width, not black
    svg = _svg(modules, 1, "".join(path))
    return CodePicture("bar", text, svg, modules * module_mm, height_mm, f"Bar code of {printable(text)}")


@lru_cache(maxsize=4096)
def qr_code(text: str, *, most_mm: float, note: str = "") -> CodePicture:
    """Draw a text as a QR code, error correction M.

    Parameters
    ----------
    text : str
        What to encode, any characters.
    most_mm : float
        Room with the quiet zone. [mm, > 0]
    note : str
        What to say with it.

    Returns
    -------
    CodePicture
        Without a drawing where the text does not go into a QR code that a reader could still resolve.

    Raises
    ------
    ExtraMissing
        The library is not installed.

    Source
    ------
    ISO/IEC 18004 through the library; module sizes are our assumption.
    """
    try:
        import segno
    except ImportError as missing:
        raise ExtraMissing(what="A QR code", package="segno", extra="paper") from missing
    try:
        symbol = segno.make(text, error="m", micro=False, boost_error=False)
    except segno.DataOverflowError:
        return CodePicture("", text, "", 0.0, 0.0, "", "too long for a code: read the print")
    matrix = symbol.matrix
    side = len(matrix) + 2 * QR_QUIET_MODULES
    module_mm = min(QR_MODULE_MM, most_mm / side)
    if module_mm < LEAST_QR_MODULE_MM:
        return CodePicture("", text, "", 0.0, 0.0, "", "too long for a code at this size: read the print")
    path = []
    for y, row in enumerate(matrix, start=QR_QUIET_MODULES):
        x = 0
        while x < len(row):
            run = x
            while run < len(row) and row[run]:
                run += 1
            if run > x:
                path.append(f"M{x + QR_QUIET_MODULES} {y}h{run - x}v1h-{run - x}z")
            x = max(run, x + 1)
    svg = _svg(side, side, "".join(path))
    size = side * module_mm
    return CodePicture("qr", text, svg, size, size, f"QR code of {printable(text)}", note)


def _svg(width: int, height: int, path: str) -> str:
    """Draw black modules on a white ground."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" preserveAspectRatio="none" '
        f'shape-rendering="crispEdges"><rect width="{width}" height="{height}" fill="#fff"/><path d="{path}"/></svg>'
    )
