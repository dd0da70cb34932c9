"""What ``figures`` prints: the three questions, how far it is, the indicators, groups, silent ports."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from fractions import Fraction
from typing import Any

from dialtrue.domain.progress.account import (
    GROUPED_BY,
    PAIR_WORDS,
    STATE_WORDS,
    Group,
    ProgrammeFigures,
    days_words,
    exact_text,
    figures_sentence,
    how_much,
    is_it_over,
    whose_work,
)
from dialtrue.domain.progress.rate import Rate, rate_words
from dialtrue.domain.words import counted, day_text, printable
from dialtrue.interfaces.cli.as_json import plain
from dialtrue.interfaces.cli.output import aligned, wrapped

_GROUPS_SHOWN = 12
_MOST_NAME = 24


def figures_lines(figures: ProgrammeFigures, *, show: int) -> list[str]:
    """Print the figures; ``show`` silent ports in full."""
    lines = [figures_sentence(figures), f"As known on {day_text(figures.moment)}; registers are counted.", ""]
    for label, answer in (
        ("How much", how_much(figures)),
        ("Whose", whose_work(figures)),
        ("Over", is_it_over(figures)),
    ):
        lines += wrapped(f"{label}? {answer}", indent=2)
    lines += ["", "How far it is", *_far(figures), "", "Indicators (95 % intervals)", *_indicators(figures)]
    lines += wrapped(f"From fault to finding: {days_words(figures.confirmed_days)} that a check confirmed; "
                     f"{days_words(figures.waiting_days)} that still wait.", indent=2)  # fmt: skip
    lines += wrapped("* our assumption, from practice; your contract may ask otherwise.", indent=2)
    for by in figures.groups:
        lines += ["", f"By {GROUPED_BY[by]}, in the order of names", *_groups(figures, by)]
    lines += _silent(figures, show)
    if figures.said:
        lines += ["", "Said while reading the files"]
        for sentence in figures.said:
            lines += wrapped(sentence, indent=2)
    return lines


def _far(figures: ProgrammeFigures) -> list[str]:
    rows = [(f"{count:,}", STATE_WORDS[state]) for state, count in figures.states.items()]
    if figures.planned is not None:
        if figures.turned_back is not None:
            rows.append((f"{figures.turned_back:,}", "turned back"))
        rows.append((f"{figures.open:,}", "open"))
    if figures.outside:
        rows.append((f"{figures.outside:,}", "of the fitted stand on no list of sites"))
    second = [(f"{count:,}", f"second look: {PAIR_WORDS[state]}") for state, count in figures.pairs.items() if count]
    return aligned([*rows, *second], right=(0,))


def _indicators(figures: ProgrammeFigures) -> list[str]:
    lines = []
    missing = [each.name.lower() for each in figures.indicators if each.stands == "not recorded"]
    for each in figures.indicators:
        if each.stands == "not recorded":
            continue
        mark = "*" if each.source == "our assumption" else ""
        lines.append(f"  {each.name:<25}{each.value}")
        lines += wrapped(f"{each.definition}; expect {each.expected}{mark}: {each.stands}", indent=27)
    return lines + (wrapped(f"Not recorded: {', '.join(missing)}.", indent=2) if missing else [])


def _groups(figures: ProgrammeFigures, by: str) -> list[str]:
    groups, enough = figures.groups[by], figures.settings.enough
    large = [group for group in groups if group.fitted >= enough]
    shown = (large or list(groups))[:_GROUPS_SHOWN]
    rows: list[tuple[str, ...]] = [("", "fitted", "proved", "right", "not yet", "doubtful", "reading", "rework")]
    rows += [_group(group, enough) for group in shown]
    lines = aligned(rows, right=(1, 2, 3, 4, 5))
    left = len(groups) - len(shown)
    if left:
        few = len(groups) - len(large)
        words = f"{counted(left, 'more group')}; {few:,} have fewer than {enough} ports, too few to tell a share of."
        lines += wrapped(f"{words} --out lists all.", indent=2)
    return lines


def _group(group: Group, enough: int) -> tuple[str, ...]:
    name = printable(group.name)
    name = name if len(name) <= _MOST_NAME else name[: _MOST_NAME - 1] + "…"
    states = [f"{group.states[state]:,}" for state in ("proved", "put_right", "to_prove", "doubtful")]
    return (name, f"{group.fitted:,}", *states, _share(group.reading, enough), _share(group.rework, enough))


def _share(rate: Rate | None, enough: int) -> str:
    """Say a share briefly: count, share, whole interval stands in --out."""
    if rate is None:
        return "not recorded"
    if rate.of < max(enough, 1):
        return f"{rate.count:,} of {rate.of:,}, too few" if rate.of else "not known"
    low, high = rate.interval
    return f"{100 * (rate.share or 0.0):.1f} % ({100 * low:.1f} to {100 * high:.1f})"


def _silent(figures: ProgrammeFigures, show: int) -> list[str]:
    lines = ["", f"Reading within {counted(figures.settings.fresh_days, 'day')}: "
                 f"{rate_words(figures.reading, enough=figures.settings.enough)}"]  # fmt: skip
    if figures.too_new:
        lines += wrapped(
            f"{counted(figures.too_new, 'port')} fitted within these days and not heard yet left out.", indent=2
        )
    for port in figures.silent[:show]:
        lines.append(f"  {printable(port.meter_serial)}  endpoint {printable(port.endpoint_serial)} port {port.port}"
                     f"  {printable(port.area)}".rstrip()[:100])  # fmt: skip
        lines += wrapped(port.says)
    if len(figures.silent) > show:
        lines.append(f"  and {len(figures.silent) - show:,} more: add --show {len(figures.silent)}, or --out for all.")
    return lines


def figures_document(figures: ProgrammeFigures) -> dict[str, Any]:
    """Return the document that ``dialtrue figures --json`` prints.

    ``form`` names its version: a key is never renamed within it, new keys may come. A share has count, of, share and
    its 95 % interval; exact volumes and money are text.
    """
    document: dict[str, Any] = {"form": "dialtrue.figures/1", "sentence": figures_sentence(figures)}
    document["answers"] = {
        "how_much": how_much(figures), "whose_work": whose_work(figures), "is_it_over": is_it_over(figures),
    }  # fmt: skip
    return document | {name: _plain(getattr(figures, name)) for name in figures.__dataclass_fields__}


def _plain(value: Any) -> Any:
    """Turn a figure into what JSON can carry."""
    if isinstance(value, Rate):
        low, high = value.interval
        return {"count": value.count, "of": value.of, "share": value.share, "low": low, "high": high}
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, Fraction):
        return exact_text(value)
    if isinstance(value, dt.datetime):
        return plain(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, dict):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    if hasattr(value, "__dataclass_fields__"):
        return {name: _plain(getattr(value, name)) for name in value.__dataclass_fields__}
    return plain(value)
