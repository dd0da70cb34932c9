"""What a survey prints: the counts, then what blocks, what must be asked, and what is offered."""

from __future__ import annotations

import textwrap
from collections import Counter
from typing import TYPE_CHECKING, Any

from dialtrue.domain.survey.flag import RULES, SurveyFlag, summary_words
from dialtrue.domain.words import counted, printable
from dialtrue.interfaces.cli.as_json import plain
from dialtrue.interfaces.cli.output import WIDTH, wrapped

if TYPE_CHECKING:
    from dialtrue.services.survey import SurveyAnswer

ASKED_EACH = 3
"""From more flags of one rule on, what to ask is printed with the first one alone."""
_TITLES = {
    "block": "Blocked until somebody has looked",
    "ask": "To ask or photograph",
    "propose": "Repairs on offer, made only if accepted",
}


def survey_lines(answer: SurveyAnswer, *, show: int) -> list[str]:
    """Print the whole answer."""
    lines = textwrap.wrap(summary_words(answer.counts), WIDTH)
    if answer.repaired or answer.refused:
        done = [counted(answer.repaired, "accepted repair") + " made"] if answer.repaired else []
        done += [counted(answer.refused, "doubt") + " refused"] if answer.refused else []
        lines += [f"{', '.join(done)}, as repairs.csv says."]
    for grade, title in _TITLES.items():
        flags = [flag for flag in answer.flags if flag.grade == grade]
        if flags:
            lines += ["", title, *_group_lines(flags, show=show)]
    if answer.flags:
        lines += ["", "To decide"]
        lines += wrapped(
            f"dialtrue survey FOLDER --out FOLDER/repairs.csv, then write accept or refuse in the column decision and "
            f"your name in by; or --accept {_example(answer)} --by NAME here. An answer to a question goes into the "
            "column becomes.", indent=2,
        )  # fmt: skip
    if answer.said:
        lines += ["", "Said while reading the files"]
        for sentence in answer.said:
            lines += wrapped(sentence, indent=2)
    return lines


def _example(answer: SurveyAnswer) -> str:
    """Return a key that may be accepted as it stands."""
    return printable(next((line.key for line in answer.lines if line.becomes and not line.decision), "KEY"))


def _group_lines(flags: list[SurveyFlag], *, show: int) -> list[str]:
    """Print the flags of one grade, gathered by rule; the first few of each in full."""
    lines: list[str] = []
    count = Counter(flag.rule for flag in flags)
    for rule in dict.fromkeys(flag.rule for flag in flags):
        lines.append(f"  {count[rule]:>3,}  {RULES[rule]}")
        first = next(each for each in flags if each.rule == rule)
        for flag in [each for each in flags if each.rule == rule][:show]:
            lines += wrapped(f"{_where(flag)}{flag.says}", indent=7)
            if count[rule] <= ASKED_EACH or flag is first:
                lines += wrapped(flag.ask, indent=7, label="ask")
            lines += wrapped(flag.key, indent=7, label="key")
        if count[rule] > show:
            lines += wrapped(f"and {count[rule] - show:,} more: --show {count[rule]}, or --out repairs.csv.", indent=7)
    return lines


def _where(flag: SurveyFlag) -> str:
    """Name the rows of a flag and their sites, a few of them."""
    if not flag.rows:
        return ""
    head = ", ".join(str(row) for row in flag.rows[:4])
    more = f" and {len(flag.rows) - 4:,} more" if len(flag.rows) > 4 else ""
    sites = [site for site in flag.sites if site][:4]
    named = f" ({', '.join(sites)}{' …' if len(flag.sites) > 4 else ''})" if sites else ""
    return f"{'Row' if len(flag.rows) == 1 else 'Rows'} {head}{more}{named}. "


def survey_document(answer: SurveyAnswer) -> dict[str, Any]:
    """Return the document that ``dialtrue survey --json`` prints; ``form`` names its version.

    ``rows`` lists the flagged lines of the file, header = 1; all others are clean.
    """
    counts = answer.counts
    blocked = answer.blocked()
    return {
        "form": "dialtrue.survey/1",
        "file": answer.file,
        "summary": {
            "clean_rows": counts.clean,
            "flagged_rows": counts.flagged,
            "blocked_rows": counts.blocked,
            "flags": counts.flags,
            "meters": counts.rows,
            "registers": counts.registers,
            "repaired": answer.repaired,
            "refused": answer.refused,
        },
        "rows": [
            {"row": row, "blocked": row in blocked, "flags": [flag.key for flag in flags]}
            for row, flags in sorted(answer.by_row().items())
        ],
        "flags": [plain(flag) for flag in answer.flags],
        "decided": [plain(line) for line in answer.lines if line.decision],
        "said": list(answer.said),
    }
