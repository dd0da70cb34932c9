"""The wiring as a piece of a page: picture, ordered list of steps, cautions."""

from __future__ import annotations

from html import escape

from dialtrue.domain.wiring.circuit import NotDrawn, Step, Wiring
from dialtrue.domain.wiring.ends import ROLE_WORDS
from dialtrue.files.wiring_picture import wiring_svg


def wiring_html(wiring: Wiring | NotDrawn, *, heading: int = 3, picture: bool = True) -> str:
    """Return a section with picture, steps and cautions.

    Parameters
    ----------
    wiring : Wiring or NotDrawn
        What was laid; a ``NotDrawn`` gives a paragraph with its reason and what next.
    heading : int
        Level of the heading on the page. [1 .. 5]
    picture : bool
        Whether to put the picture in; without it the list says all of it.

    Returns
    -------
    str
        One ``<section class="wiring">``, without style of its own. Each register of a compound meter has its own list
        under its own heading; steps of common practice are marked.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.
    """
    if isinstance(wiring, NotDrawn):
        title = f"Wiring of {ROLE_WORDS[wiring.role]}, port {wiring.port}"
        return (
            f'<section class="wiring"><h{heading}>{escape(title)}</h{heading}>'
            f'<p class="not-drawn">{escape(wiring.sentence)}</p></section>'
        )
    parts = [f'<section class="wiring"><h{heading}>Wiring: {escape(wiring.title)}</h{heading}>']
    if picture:
        parts.append(f'<figure style="margin:0;max-width:170mm">{wiring_svg(wiring)}</figure>')
    for run in wiring.runs:
        steps = [step for step in wiring.steps if step.role == run.role]
        if len(wiring.runs) > 1:
            parts.append(f"<h{heading + 1}>{escape(run.title)}</h{heading + 1}>")
        parts.append(f"<ol>{''.join(_item(step) for step in steps)}</ol>")
    cautions = "".join(f"<li>{escape(warning)}</li>" for warning in wiring.warnings)
    parts.append(f'<ul class="cautions">{cautions}</ul></section>')
    return "\n".join(parts)


def _item(step: Step) -> str:
    """Return one step as a list item."""
    mark = "" if step.basis == "sheet" else " <small>(common practice)</small>"
    return f"<li>{escape(step.text)}{mark}</li>"
