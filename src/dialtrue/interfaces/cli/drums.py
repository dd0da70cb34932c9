"""The lined-up dial and index as terminal text: plain characters, no colour needed, at most 100 columns."""

from __future__ import annotations

from typing import Final

from dialtrue.domain.lined_up import Cell, LinedUp

WIDTH: Final = 100
_LABEL_WIDTH: Final = 7


def drum_lines(lined_up: LinedUp) -> list[str]:
    """Return the picture as lines: dial, marks, index, then the sentence and any notes.

    Parameters
    ----------
    lined_up : LinedUp
        The picture.

    Returns
    -------
    list of str
        Each at most 100 columns wide. ``|`` joins digits that agree and ``^`` marks those that part; ``~`` marks those
        that part though the registers are level (0999 and 1000); ``[0]`` is a painted zero. The sentence says the same
        in words, for a screen reader.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: three characters a drum read best, and 24 drums (``MOST_COLUMNS``) fit beside the label.
    """
    dial = _row("dial", lined_up, lined_up.dial_cells)
    index = _row("index", lined_up, lined_up.index_cells)
    marks = " " * _LABEL_WIDTH
    parting = " ~ " if lined_up.level else " ^ "
    for place, agrees in enumerate(lined_up.agree):
        marks += {True: " | ", False: parting, None: "   "}[agrees] + (" " if place == lined_up.point_after else "")
    unit = f"  {lined_up.unit}"
    beside = f"{unit}  {lined_up.difference_text}"
    lines = [dial + unit, marks.rstrip()]
    if len(index + beside) <= WIDTH:
        lines.append(index + beside)
    else:
        lines += [index + unit, *_wrapped(lined_up.difference_text)]
    for text in (lined_up.sentence, *lined_up.notes):
        lines += _wrapped(text)
    return lines


def _row(label: str, lined_up: LinedUp, cells: tuple[Cell | None, ...]) -> str:
    """Return one row of drums."""
    row = f"{label:<{_LABEL_WIDTH}}"
    for place, cell in enumerate(cells):
        if cell is None:
            row += "   "
        else:
            row += f"[{cell.digit}]" if cell.kind == "painted" else f" {cell.digit} "
        if place == lined_up.point_after:
            row += "."
    return row


def _wrapped(text: str) -> list[str]:
    """Break a sentence between words so that each line fits."""
    lines = [""]
    for word in text.split(" "):
        if lines[-1] and len(lines[-1]) + 1 + len(word) > WIDTH:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".lstrip()
    return lines
