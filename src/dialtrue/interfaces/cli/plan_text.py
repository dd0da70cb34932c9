"""A plan in plain text and as JSON: the summary, then what must be asked, then what is planned."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from dialtrue.domain.words import counted, printable
from dialtrue.interfaces.cli.as_json import plain
from dialtrue.interfaces.cli.output import aligned, wrapped

if TYPE_CHECKING:  # the service draws in the table library, which help must not wait for
    from dialtrue.services.plan import PlanAnswer

FORM = "dialtrue.plan/1"
VERDICT_WORDS = {
    "fits": "fit",
    "fits_with_care": "fit with care",
    "does_not_fit": "do not fit",
    "unknown": "not known",
}


def plan_lines(answer: PlanAnswer, *, show: int) -> list[str]:
    """Print a plan. Never raises."""
    counts = answer.counts
    summary = (
        f"{counted(counts['registers'], 'register')} at {counted(counts['sites'], 'site')}: "
        f"{counts['planned']:,} planned on {counted(counts['endpoints'], 'endpoint')}, "
        f"{counted(counts['ports'], 'port')}; {counts['ask']:,} to ask about first."
    )
    if counts["left_out"]:
        summary += f" {counted(counts['left_out'], 'row')} left out."
    lines = wrapped(summary, indent=0)
    if answer.questions:
        lines += ["", "To ask on site"]
        for question in answer.questions[:show]:
            sites = ", ".join(question.sites)
            more = f" and {question.registers - len(question.sites):,} more" if question.registers > 5 else ""
            lines += wrapped(question.text, indent=2, label=f"{question.registers:,}")
            if sites:
                lines += wrapped(f"at {printable(sites)}{more}", indent=9)
        if len(answer.questions) > show:
            lines.append(f"  and {len(answer.questions) - show:,} more questions: add --show {len(answer.questions)}.")
    if counts["registers"]:
        lines += ["", "Planned", *_planned_lines(answer)]
    if answer.said:
        lines += ["", "Said while reading the files"]
        for sentence in answer.said[:show]:
            lines += wrapped(sentence, indent=2)
    return lines


def _planned_lines(answer: PlanAnswer) -> list[str]:
    """Print endpoints, settings of the index, verdicts, minutes."""
    plan = answer.plan
    firsts = [
        (row["endpoint"], row["mount"] or "mount not known")
        for row in _rows(answer, ("endpoint", "mount", "endpoint_number", "site"), once=True)
    ]
    titles = {key: sheet.title for key, sheet in answer.hardware.endpoints.items()}
    rows = [("endpoints", "sheet", "mount", "what it is")]
    rows += [
        (f"{count:,}", endpoint, mount, titles[endpoint][:52])
        for (endpoint, mount), count in Counter(firsts).most_common()
    ]
    lines = aligned(rows, right=(0,)) if firsts else ["  No endpoint: settle the questions first."]
    words = ", ".join(f"{n:,} {VERDICT_WORDS[verdict]}" for verdict, n in answer.verdicts.items() if n)
    lines += ["", *wrapped(f"Fit check: {words or 'nothing to judge'}.", indent=2)]
    high = sum(bool(flag) for flag in plan["proof_high_flow"].to_pylist())
    minutes = sum(value or 0.0 for value in plan["job_minutes"].to_pylist())
    lines += wrapped(f"Work on site: {minutes / 60:,.0f} h, the proof included (our assumption by mount).", indent=2)
    if high:
        lines += wrapped(f"{counted(high, 'register')} cannot be proved with a hose: a high-flow draw.", indent=2)
    notes = Counter(note for note in plan["index_note"].to_pylist() if note)
    for note, count in notes.most_common(3):
        lines += wrapped(f"{counted(count, 'register')}: {note}", indent=2)
    return lines


def _rows(answer: PlanAnswer, names: tuple[str, ...], *, once: bool) -> list[dict[str, Any]]:
    """Return the planned rows' cells; ``once``: one row an endpoint."""
    columns = zip(*(answer.plan[name].to_pylist() for name in names), strict=True)
    rows = [dict(zip(names, cells, strict=True)) for cells in columns]
    rows = [row for row in rows if row["endpoint"] is not None]
    if not once:
        return rows
    return list({(row["site"], row["endpoint_number"]): row for row in reversed(rows)}.values())


def plan_document(answer: PlanAnswer) -> dict[str, Any]:
    """Return the document that ``dialtrue plan --json`` prints; a key is never renamed within a form. Never raises."""
    return {
        "form": FORM,
        "counts": answer.counts,
        "verdicts": answer.verdicts,
        "questions": [plain(question) for question in answer.questions],
        "plan": [plain(row) for row in answer.plan.to_pylist()],
        "said": list(answer.said),
    }
