"""What the command ``sheets`` prints: the result in one line, then the sites with questions, then what was said."""

from __future__ import annotations

import dataclasses
import textwrap
from collections.abc import Sequence
from typing import Any

from dialtrue.domain.words import printable
from dialtrue.interfaces.cli.output import WIDTH, wrapped
from dialtrue.services.job_sheets import SheetsAnswer

MOST_SAID = 12
FORM = "dialtrue.sheets/1"


def sheets_lines(answer: SheetsAnswer, notes: Sequence[str], *, show: int) -> list[str]:
    """Return the lines for the terminal, at most 100 columns wide."""
    lines = textwrap.wrap(answer.sentence, WIDTH)
    asking = answer.asking
    if asking:
        lines += ["", "Ask before any work"]
        for sheet in asking[:show]:
            lines += wrapped(f"{printable(sheet.site)}: {' '.join(sheet.questions)}", indent=2)
        if len(asking) > show:
            lines.append(f"  and {len(asking) - show:,} more sites: add --show {len(asking)}, or see the sheets.")
    for title, said in (("To know about the print", notes), ("Said while reading the files", answer.said)):
        if said:
            lines += ["", title]
            for sentence in said[:MOST_SAID]:
                lines += wrapped(sentence, indent=2)
            if len(said) > MOST_SAID:
                lines.append(f"  and {len(said) - MOST_SAID:,} more: --json lists all.")
    return lines


def sheets_document(answer: SheetsAnswer, notes: Sequence[str]) -> dict[str, Any]:
    """Return the whole answer as JSON carries it; drawings are left out; a key is never renamed within a form."""
    sheets = []
    for sheet in answer.sheets:
        row = dataclasses.asdict(sheet)
        for drawing in row["wiring"]:
            del drawing["drawing"]
        sheets.append(row)
    return {
        "form": FORM,
        "summary": answer.sentence,
        "paper": answer.paper,
        "ask": [sheet.site for sheet in answer.asking],
        "sheets": sheets,
        "labels": [dataclasses.asdict(label) for label in answer.labels],
        "notes": list(notes),
        "said": list(answer.said),
    }
