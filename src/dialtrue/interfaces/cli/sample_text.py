"""What ``sample`` prints: the counts, then rejected lots, then what is still open, then crews."""

from __future__ import annotations

import math
from typing import Any

from dialtrue.domain.acceptance.account import LotAccount, SampleAccount, account_sentence
from dialtrue.domain.acceptance.chance import acceptance_chance
from dialtrue.domain.acceptance.crews import CREW_WORDS, rate_words
from dialtrue.domain.acceptance.judgement import OUTCOME_WORDS, grade_words, lot_words, percent, plan_risk_words
from dialtrue.domain.acceptance.plan import GRADES, GradePlan, characteristic
from dialtrue.domain.words import counted, printable
from dialtrue.interfaces.cli.as_json import plain
from dialtrue.interfaces.cli.output import aligned, wrapped

_SHARES = (1, 2, 4, 5, 8, 10)


def sample_lines(account: SampleAccount, step: str, *, show: int) -> list[str]:
    """Print the account for one of the steps."""
    lines = [account_sentence(account)]
    if step == "plan":
        lines += _plan_lines(account, show=show)
    elif step == "draw":
        for lot in account.lots:
            lines += _draw_lines(lot, show=show)
    else:
        lines += _judge_lines(account, show=show)
    if account.said:
        lines += ["", "Said while reading the files"]
        for sentence in account.said:
            lines += wrapped(sentence, indent=2)
    return lines


def _grade_cell(plan: GradePlan) -> str:
    return f"{plan.accept} in {plan.size:,}"


def _plan_lines(account: SampleAccount, *, show: int) -> list[str]:
    """Print how much of each lot is looked at, and what the plans let pass."""
    open_lots = [lot for lot in account.lots if lot.drawn is None]
    lines: list[str] = []
    if open_lots:
        rows = [("lot", "sites", "in any case", "to draw", "how", *(p.grade for p in open_lots[0].plan.grades))]
        for lot in open_lots[:show]:
            plan = lot.plan
            draw = "all" if plan.inspects_all else f"{plan.size:,}"
            rows.append(
                (
                    printable(lot.name), f"{lot.sites:,}", f"{lot.sites - plan.lot_size:,}", draw, plan.severity,
                    *(_grade_cell(each) for each in plan.grades),
                )
            )  # fmt: skip
        lines += ["", "To draw (accept with up to so many bad in so many)", *aligned(rows, right=(1, 2, 3))]
        if len(open_lots) > show:
            lines += wrapped(f"and {len(open_lots) - show:,} more: --show {len(open_lots)}", indent=2)
    lines += _passes_lines(account.lots)
    lines += _series_lines(account)
    return lines


def _passes_lines(lots: tuple[LotAccount, ...]) -> list[str]:
    """Print how often lots of a given quality pass, for the commonest sizes of lot."""
    sizes: dict[tuple[str, int, int], list[int]] = {}
    for lot in lots:
        for each in lot.plan.grades:
            if not lot.plan.inspects_all and each.size:
                sizes.setdefault((each.grade, each.size, each.accept), []).append(lot.plan.lot_size)
    if not sizes:
        return []
    rows = [("grade", "plan", "lots of", *(f"{share} % bad" for share in _SHARES))]
    for grade, size, accept in sorted(sizes, key=lambda key: (GRADES.index(key[0]), key[1:])):
        least, most = min(sizes[grade, size, accept]), max(sizes[grade, size, accept])
        chances = (acceptance_chance(most, round(share * most / 100), size=size, accept=accept) for share in _SHARES)
        span = f"{most:,}" if least == most else f"{least:,} to {most:,}"
        rows.append((grade, f"{accept} in {size:,}", span, *(f"{chance:.2f}" for chance in chances)))
    return ["", "Chance that the largest of these lots passes", *aligned(rows, right=range(3, 9))]


def _series_lines(account: SampleAccount) -> list[str]:
    """Print how the next lots are inspected."""
    lines: list[str] = []
    for name, state in account.series.items():
        told = "inspection is stopped" if state.stopped else f"{state.severity} inspection"
        whose = "Next lots" if name == "all" else f"Next lots of {printable(name)}"
        lines += wrapped(f"{whose}: {told}; {state.why}.", indent=0)
    return ["", *lines] if lines else []


def _draw_lines(lot: LotAccount, *, show: int) -> list[str]:
    """Print the sites to look at."""
    drawn = lot.drawn
    if drawn is None:
        return []
    lines = [
        "",
        f"Lot {printable(lot.name)}, drawn {drawn.drawn_at:%Y-%m-%d %H:%M} UTC, seed {printable(drawn.seed)!r}",
        f"  lot {drawn.population_hash}",
    ]
    for plan in lot.plan.grades:
        lines += wrapped(
            f"{plan.grade}: accept with up to {plan.accept} bad in {plan.size:,} ({plan.demand.words}).", indent=2
        )
    rows = [("", "site", "crew", "kind", "address")]
    listed = sorted(
        (row for row in drawn.rows if row.part != "reserve"),
        key=lambda row: (("whole", "sample", "replacement").index(row.part), row.position),
    )
    marks = {"whole": "any case", "sample": "", "replacement": "for "}
    for row in listed[:show]:
        mark = f"{row.position}" if row.part == "sample" else marks[row.part] + row.replaces
        place = lot.places.get(row.site)
        address = place.address if place else ""
        rows.append(
            (
                printable(mark),
                printable(row.site),
                printable(row.crew),
                printable(row.kind.replace("_", " ")),
                printable(address),
            )
        )
    lines += aligned(rows)
    if len(listed) > show:
        lines += wrapped(f"and {len(listed) - show:,} more: --show {len(listed)}, or draw.csv.", indent=2)
    lines += wrapped(
        "To check a place in the order: printf '%s' 'SEED|LOT|SITE' | sha256sum; the least are drawn.", indent=2
    )
    return lines


def _judge_lines(account: SampleAccount, *, show: int) -> list[str]:
    """Print the decisions, then what is to be said of crews."""
    lines: list[str] = []
    titles = (("reject", "Rejected"), ("not_yet", "Not yet decided"), ("accept", "Accepted"))
    for state, title in titles:
        lots = [lot for lot in account.lots if lot.state == state]
        if lots:
            lines += ["", title]
            if state == "accept":
                lines += _accepted_lines(lots[:show])
            else:
                for lot in lots[:show]:
                    lines += _lot_lines(lot)
            if len(lots) > show:
                lines += wrapped(f"and {len(lots) - show:,} more: --show {len(lots)}", indent=2)
    waiting = account.counted("to_draw")
    if waiting:
        lines += ["", f"{counted(waiting, 'lot')} not drawn yet: dialtrue sample FOLDER plan lists them."]
    lines += _series_lines(account)
    if any(verdict.count.inspected for verdict in account.crews):
        lines += ["", f"Crews by name, {account.grade} defects in first samples (95 % intervals)"]
        rows = [("crew", "fitted", "inspected", "bad", "share", "verdict")]
        for verdict in account.crews:
            count = verdict.count
            rows.append(
                (
                    printable(count.crew), f"{count.fitted:,}", f"{count.inspected:,}", f"{count.bad}",
                    rate_words(verdict), CREW_WORDS[verdict.outcome],
                )
            )  # fmt: skip
        lines += aligned(rows, right=(1, 2, 3))
        for verdict in account.crews:
            if verdict.outcome in ("act", "look"):
                shared = " ".join(account.shared.get(verdict.count.crew, ()))
                lines += wrapped(f"{verdict.count.crew}: {verdict.says} {shared}".rstrip(), indent=2)
        lines += wrapped("Small numbers accuse nobody: a difference that chance explains says nothing.", indent=2)
    for sentence in account.pairs:
        lines += wrapped(sentence, indent=2)
    if account.set_aside:
        lines += ["", f"{counted(len(account.set_aside), 'inspection')} not counted"]
        for each in account.set_aside[: min(show, 20)]:
            lines += wrapped(f"row {each.row}, lot {each.lot}, site {each.site}: {each.why}.", indent=2)
        if len(account.set_aside) > min(show, 20):
            lines += wrapped(f"and {len(account.set_aside) - min(show, 20):,} more: --json.", indent=2)
    return lines


def _lot_lines(lot: LotAccount) -> list[str]:
    """Print one lot that was drawn."""
    judged = lot.judgement
    if judged is None:
        return []
    lines = wrapped(f"{lot.name}: {counted(lot.sites, 'site')}, {lot.plan.severity}", indent=2)
    for result in judged.grades:
        lines += wrapped(grade_words(result, judged.plan.lot_size), indent=4)
        if result.outcome != "not_yet" and not judged.plan.inspects_all and result.plan.grade == "critical":
            lines += wrapped(plan_risk_words(result.plan, judged.plan.lot_size, 0.04), indent=4)
    for sentence in filter(None, (lot_words(judged), *lot.common, *lot.notes)):
        lines += wrapped(sentence, indent=4)
    closed = sorted(site for site, visit in lot.visits.items() if visit.grades is None and _is_open(lot, site))
    if closed:
        named = ", ".join(closed[:5]) + (f" and {len(closed) - 5:,} more" if len(closed) > 5 else "")
        lines += wrapped(f"No access: {named}. Replace with draw --replace SITE --reason TEXT --by NAME.", indent=4)
    return lines


def _accepted_lines(lots: list[LotAccount]) -> list[str]:
    """Print accepted lots, one a line: what was found of each grade, and what that shows of the worst one."""
    rows = [("lot", "sites", "found bad", "shows, with 95 % confidence")]
    told: list[str] = []
    for lot in lots:
        judged = lot.judgement
        if judged is None:
            continue
        found = ", ".join(f"{each.plan.grade} {each.bad} in {each.inspected}" for each in judged.grades)
        first = judged.grades[0] if judged.grades else None
        shows = "every site was seen" if judged.plan.inspects_all else ""
        if first is not None and first.proved is not None and not shows:
            shows = f"fewer than {percent(first.proved)} {first.plan.grade}"
        rows.append((printable(lot.name), f"{lot.sites:,}", found, shows))
        for sentence in lot.notes:
            told += wrapped(f"{lot.name}: {sentence}", indent=4)
    return [*aligned(rows, right=(1,)), *told, "  What was found bad is put right all the same."]


def _is_open(lot: LotAccount, site: str) -> bool:
    return lot.drawn is not None and not any(row.replaces == site for row in lot.drawn.rows)


def sample_document(account: SampleAccount, step: str) -> dict[str, Any]:
    """Return the document that ``dialtrue sample --json`` prints; ``form`` names its version."""
    return {
        "form": "dialtrue.sample/1",
        "step": step,
        "summary": {state: account.counted(state) for state in ("reject", "not_yet", "accept", "to_draw")},
        "says": account_sentence(account),
        "lots": [_lot_document(lot) for lot in account.lots],
        "crews": {"grade": account.grade, "verdicts": [plain(verdict) for verdict in account.crews]},
        "pairs": list(account.pairs),
        "series": plain(dict(account.series)),
        "not_counted": plain(list(account.set_aside)),
        "said": list(account.said),
    }


def _lot_document(lot: LotAccount) -> dict[str, Any]:
    """Return one lot; demands as text, shares as numbers, None for what is not known."""
    judged, drawn, plan = lot.judgement, lot.drawn, lot.plan
    found: dict[str, Any] = {
        "lot": lot.name,
        "lot_of": lot.lot,
        "state": lot.state,
        "decision": "" if judged is None else OUTCOME_WORDS[judged.outcome],
        "crews": list(lot.crews),
        "sites": lot.sites,
        "drawn_from": plan.lot_size,
        "sample_size": plan.size,
        "level": plan.level,
        "severity": plan.severity,
        "plans": [
            {
                "grade": each.grade, "demand": str(each.demand), "size": each.size, "accept": each.accept,
                "characteristic": [[share, chance] for share, chance in characteristic(each, max(plan.lot_size, 1))],
            }
            for each in plan.grades
        ],
        "notes": list(lot.notes),
        "in_common": list(lot.common),
    }  # fmt: skip
    if drawn is not None:
        found["draw"] = {
            "seed": drawn.seed, "drawn_at": plain(drawn.drawn_at), "population_hash": drawn.population_hash,
            "rows": [plain(row) for row in drawn.rows if row.part != "reserve"],
        }  # fmt: skip
    if judged is not None:
        found["grades"] = [
            {
                "grade": each.plan.grade, "outcome": each.outcome, "inspected": each.inspected, "bad": each.bad,
                "more": each.more, "share": None if math.isnan(each.share) else each.share,
                "exact_95": list(each.exact), "score_95": list(each.score), "shown_below": each.proved,
            }
            for each in judged.grades
        ]  # fmt: skip
        found["in_any_case"] = {
            "sites": judged.whole, "open": judged.whole_open, "bad": dict(judged.whole_bad),
        }  # fmt: skip
        found["screening"] = plain(list(judged.screening))
        found["says"] = lot_words(judged)
        found["visits"] = [
            {
                "site": visit.site, "at": plain(visit.at), "inspector": visit.inspector, "found": list(visit.found),
                "grades": None if visit.grades is None else sorted(visit.grades),
            }
            for visit in lot.visits.values()
        ]  # fmt: skip
    return found
