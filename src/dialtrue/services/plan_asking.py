"""What must be asked on site: why a register cannot be planned, in words, by row and by question."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from dialtrue.domain.contracts import MOUNTS
from dialtrue.domain.planning.questions import QUESTIONS, Question, question_text
from dialtrue.domain.pulse_chain.rules import RULE_IDS, RULES
from dialtrue.domain.pulse_chain.verdict import OUTCOMES
from dialtrue.domain.watch_result import RowProblem
from dialtrue.domain.words import counted
from dialtrue.services.plan_codes import codes_together
from dialtrue.services.plan_columns import Planned
from dialtrue.services.plan_cures import cure_words
from dialtrue.services.plan_registers import Registers

Ints = npt.NDArray[np.int64]

SITES_SHOWN: Final = 5
"""Sites named beside a question."""

ROWS_SHOWN: Final = 5
"""Rows named of those that cannot be read for one cause."""

_NO_FIT, _UNKNOWN = OUTCOMES.index("does_not_fit"), OUTCOMES.index("unknown")


ASKED_BY_SURVEY: Final = {
    "role": "compound_one_row",
    "duplicate": "same_register_twice",
    "size": "unknown_size",
    "unit_mixed": "unit_differs",
}
"""Rules of the survey that ask, in their own words, what the plan would ask again."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """A doubt of the survey: its rule, the rows that it is about, and its question."""

    rule: str
    rows: Ints
    says: str


def ask_once(registers: Registers, doubts: Sequence[Doubt]) -> None:
    """Take back what the plan asks of rows of which the survey asks the same. Never raises."""
    for doubt in doubts:
        code = ASKED_BY_SURVEY.get(doubt.rule, "")
        if code in registers.asked:
            left = [(rows[~np.isin(rows, doubt.rows)], detail) for rows, detail in registers.asked[code]]
            registers.asked[code] = [(rows, detail) for rows, detail in left if len(rows)]


def ask_groups(planned: Planned) -> None:
    """Note what only the grouping and the fit check show."""
    registers, groups, choice = planned.registers, planned.groups, planned.choice
    serials = planned.sites["meter_serial"]
    twice = np.flatnonzero(groups.twice)
    for code in np.unique(registers.serial[twice]):
        rows = twice[registers.serial[twice] == code]
        registers.ask("same_register_twice", rows, str(serials[int(rows[0])].as_py()))
    registers.ask("compound_one_row", np.flatnonzero(groups.one_row))
    registers.ask("compound_apart", np.flatnonzero(groups.apart))
    offer = choice.offer[groups.group]
    _ask_endpoint(planned, np.flatnonzero((offer < 0) & ~_asked_rows(registers)))
    last = np.array([held.last for held in planned.offers.offers] + [False])
    registers.ask("needs_power", np.flatnonzero(last[offer]))
    outcome, deciding = planned.fit.outcome[planned.fit_at], planned.fit.deciding[planned.fit_at]
    margin = planned.fit.margin[planned.fit_at, deciding]
    badly = np.flatnonzero((outcome == _NO_FIT) & (offer >= 0))
    cures = cure_words(planned, badly)
    _ask_by_words(registers, "does_not_fit", badly, deciding[badly], margin[badly], cures)
    open_rows = np.flatnonzero((outcome == _UNKNOWN) & (offer >= 0) & ~_asked_rows(registers))
    _ask_by_words(registers, "fit_unknown", open_rows, deciding[open_rows], margin[open_rows], None)


def _ask_by_words(
    registers: Registers,
    code: str,
    rows: Ints,
    rule: npt.NDArray[np.int8],
    margin: npt.NDArray[np.float64],
    cures: npt.NDArray[np.object_] | None,
) -> None:
    """Note one question for all rows of the same rule, shortfall and cure."""
    told = [
        _margin_words(int(place), float(short)) + (f"; it would fit: {cure}" if cure else "")
        for place, short, cure in zip(rule, margin, [""] * len(rows) if cures is None else cures, strict=True)
    ]
    for words, back in _by_words(told):
        registers.ask(code, rows[back], words)


def _by_words(told: list[str]) -> list[tuple[str, Ints]]:
    """Return each distinct text with its places."""
    places: dict[str, list[int]] = {}
    for place, words in enumerate(told):
        places.setdefault(words, []).append(place)
    return [(words, np.array(held, np.int64)) for words, held in places.items()]


def _margin_words(rule: int, margin: float) -> str:
    """Say a rule with what it is short of."""
    unit = RULES[rule].unit
    short = f", {-margin:.2g} {unit} short" if np.isfinite(margin) and margin < 0 and unit else ""
    return f"{RULE_IDS[rule]}{short}"


def _asked_rows(registers: Registers) -> npt.NDArray[np.bool_]:
    """Return which rows have a question already."""
    asked = np.zeros(registers.rows, np.bool_)
    for held in registers.asked.values():
        for rows, _ in held:
            asked[rows] = True
    return asked


def _ask_endpoint(planned: Planned, rows: Ints) -> None:
    """Say why no endpoint serves some rows: mount and ports, the weight, or the unit of the index."""
    registers, groups = planned.registers, planned.groups
    group = groups.group[rows]
    key = codes_together(
        registers.case[rows], groups.size[group], groups.mount[group] + 1, groups.endpoint[group] + 1,
        registers.role[rows],
    )  # fmt: skip
    _, first, back = np.unique(key, return_index=True, return_inverse=True)
    for kind, row in enumerate(rows[first].tolist()):
        registers.ask(*_endpoint_question(planned, row, rows[back.reshape(-1) == kind]))


def _endpoint_question(planned: Planned, row: int, rows: Ints) -> tuple[str, Ints, str]:
    """Return the question about an endpoint for rows alike: code, rows, detail."""
    registers, groups, offers = planned.registers, planned.groups, planned.offers
    group = groups.group[row]
    size, mount, named = int(groups.size[group]), int(groups.mount[group]), int(groups.endpoint[group])
    here = [
        place
        for place, offer in enumerate(offers.offers)
        if mount >= 0 and MOUNTS[mount] in offer.endpoint.mounts and named in (-1, offer.place)
    ]
    held = [place for place in here if offers.offers[place].endpoint.ports >= size]
    case = registers.cases[registers.case[row]]
    cases = [offers.cases[registers.case[row]][place] for place in held]
    if held and all(item.weight is None for item in cases):
        return "weight_not_offered", rows, f"{case.weight_text} {case.weight_unit}"
    if held and all(item.index is None for item in cases) and case.dial is not None:
        return "unit_not_offered", rows, case.dial.unit
    where = MOUNTS[mount] if mount >= 0 else "mount not known"
    if here and not held and registers.role[row] > 0:
        most = max((offers.offers[place].endpoint for place in here), key=lambda endpoint: endpoint.ports)
        return "compound_no_port", rows, f"{where}, {most.key} has {counted(most.ports, 'port')}"
    return "no_endpoint", rows, f"{where}, {counted(size, 'port')}"


def asked_columns(registers: Registers) -> tuple[pa.Array, pa.Array]:
    """Return the columns of questions and status."""
    texts = np.full(registers.rows, "", dtype=object)
    for code in QUESTIONS:
        for rows, detail in registers.asked.get(code, []):
            held = texts[rows]
            texts[rows] = np.where(held == "", "", held + " ") + question_text(code, detail)
    asked = texts != ""
    status = pa.array(["planned", "ask"]).take(pa.array(asked.astype(np.int64)))
    return pa.array(texts, pa.string(), mask=~asked), status


def questions_of(registers: Registers, table: pa.Table) -> tuple[Question, ...]:
    """Return each distinct question with its count and its first sites, the most frequent first."""
    gathered: dict[tuple[str, str], list[Ints]] = {}
    for code in QUESTIONS:
        for rows, detail in registers.asked.get(code, []):
            gathered.setdefault((code, question_text(code, detail)), []).append(rows)
    found = []
    for (code, text), parts in gathered.items():
        rows = np.unique(np.concatenate(parts))
        sites = table["site"].take(pa.array(rows[: 4 * SITES_SHOWN])).to_pylist()
        found.append(Question(code, text, len(rows), tuple(dict.fromkeys(sites))[:SITES_SHOWN]))
    return tuple(sorted(found, key=lambda question: -question.registers))


def left_out_questions(problems: Sequence[RowProblem], count: int) -> tuple[Question, ...]:
    """Return the rows that could not be read as questions: one a cause, the most frequent first, one for the rest."""
    causes: dict[tuple[str, ...], list[RowProblem]] = {}
    for problem in problems:
        cause = (problem.file, problem.column, problem.expected, problem.remedy, problem.code)
        causes.setdefault(cause, []).append(problem)
    found = [Question("left_out", question_text("left_out", _says(held)), len(held), ()) for held in causes.values()]
    found.sort(key=lambda question: -question.registers)
    more = count - len(problems)
    if more > 0:
        rest = f"{counted(more, 'more row')} of the sites cannot be read: put the first ones right, then plan again."
        found.append(Question("left_out", rest, more, ()))
    return tuple(found)


def _says(problems: Sequence[RowProblem]) -> str:
    """Say one cause for all the rows that it keeps out."""
    first = problems[0]
    if len(problems) == 1:
        return first.says()
    rows = ", ".join(str(problem.row) for problem in problems[:ROWS_SHOWN])
    if len(problems) > ROWS_SHOWN:
        rows += f" and {len(problems) - ROWS_SHOWN:,} more"
    others = " and others" if len({problem.value for problem in problems}) > 1 else ""
    where = f"{first.file}, rows {rows}" + (f", {first.column}" if first.column else "")
    return f"{where} {first.value!r}{others}: {first.expected} is expected. {first.remedy} [{first.code}]"
