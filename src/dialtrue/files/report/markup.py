"""Small pieces of HTML. Whatever came from a file is escaped here and nowhere else."""

from __future__ import annotations

import html
from collections.abc import Sequence
from typing import Final

from dialtrue.domain.words import printable

SHAPES: Final = {
    "visit": ("visit", '<path d="M6 0 12 11H0z"/>'),
    "remote_check": ("check from the desk", '<path d="M6 0 12 6 6 12 0 6z"/>'),
    "none": ("note", '<path d="M1 5h10v2H1z"/>'),
    "sound": ("counts true", '<circle cx="6" cy="6" r="5"/>'),
}
"""A word and a shape for each state, so that none is told by colour alone."""


def safe(text: object) -> str:
    """Escape text for HTML and replace control characters."""
    return html.escape(printable(text), quote=True)


def serial(text: object) -> str:
    """Set a serial in the monospaced face."""
    return f'<span class="serial">{safe(text)}</span>'


def state(name: str) -> str:
    """Draw a state as shape and word."""
    word, shape = SHAPES[name]
    return f'<span class="state {name}"><svg viewBox="0 0 12 12" aria-hidden="true">{shape}</svg>{word}</span>'


def table(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    caption: str = "",
    right: Sequence[int] = (),
    hide_on_phone: Sequence[int] = (),
) -> str:
    """Lay out a table from cells that are HTML already; the first cell of each row heads it."""

    def marks(column: int) -> str:
        names = [name for name, columns in (("num", right), ("wideonly", hide_on_phone)) if column in columns]
        return f' class="{" ".join(names)}"' if names else ""

    parts = ['<div class="scroll"><table>']
    if caption:
        parts.append(f"<caption>{safe(caption)}</caption>")
    heads = "".join(f'<th scope="col"{marks(column)}>{safe(cell)}</th>' for column, cell in enumerate(head))
    parts.append(f"<thead><tr>{heads}</tr></thead><tbody>")
    for row in rows:
        cells = [
            f'<th scope="row"{marks(0)}>{cell}</th>' if column == 0 else f"<td{marks(column)}>{cell}</td>"
            for column, cell in enumerate(row)
        ]
        parts.append(f"<tr>{''.join(cells)}</tr>")
    parts.append("</tbody></table></div>")
    return "".join(parts)


def svg_text(x: float, y: float, words: str, *, anchor: str = "start", look: str = "") -> str:
    """Set words into a drawing; ``look`` names its style."""
    style = f' class="{look}"' if look else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{style}>{safe(words)}</text>'


def section(identity: str, title: str, body: str) -> str:
    """Wrap a titled section that can be linked to."""
    head = f'<h2 id="{identity}-t">{safe(title)}</h2>'
    return f'<section id="{identity}" aria-labelledby="{identity}-t">{head}{body}</section>'
