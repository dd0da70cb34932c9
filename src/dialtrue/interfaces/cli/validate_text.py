"""What ``validate`` prints: the sum of it first, then how gaps were filled, failed checks, and the worst ports."""

from __future__ import annotations

import dataclasses
import textwrap
from typing import Any

from dialtrue.domain.read_checks.account import ValidationAccount
from dialtrue.domain.read_checks.rules import PORT_RULES, READ_RULES
from dialtrue.domain.words import counted
from dialtrue.interfaces.cli.output import WIDTH, aligned, wrapped

_FILLED = {
    "interpolated": "on a straight line between two reads",
    "like_days": "from like days",
    "own_history": "from the port's other days",
    "even": "evenly: the port has no history",
}


def validation_lines(account: ValidationAccount, *, show: int) -> list[str]:
    """Print an account."""
    gaps = sum(account.gaps.values())
    failed = len({(check.endpoint_serial, check.port) for check in account.checks})
    lines = textwrap.wrap(
        f"{counted(account.reads, 'read')} of {counted(account.ports, 'port')}: "
        f"{counted(account.failed_reads, 'read')} and {counted(failed, 'port')} failed a check; "
        f"{counted(gaps, 'gap')} filled with {counted(account.estimated, 'estimate')}. No read was changed.",
        WIDTH,
    )
    cadences = "; ".join(f"{name} {count:,}" for name, count in account.cadences.items())
    lines += wrapped(f"Ports by how often they are read: {cadences}.", indent=2)
    if account.out_of_order:
        lines += wrapped(
            f"Rows of {counted(account.out_of_order, 'port')} do not stand in order of time; they were sorted, which "
            "changes nothing else.",
            indent=2,
        )
    if gaps or account.left:
        rows = [
            (counted(account.gaps[rule], "gap"), counted(account.estimates.get(rule, 0), "estimate"), words)
            for rule, words in _FILLED.items()
            if rule in account.gaps
        ]
        rows += [
            (counted(some, "gap"), f"{missing:,} missing", f"left open: {why}")
            for why, (some, missing) in account.left.items()
        ]
        lines += ["", "Gaps", *aligned(rows, right=(0, 1))]
    rows = [
        (f"{account.said[rule.name]:,}", rule.name, rule.meaning)
        for rule in READ_RULES
        if rule.failed and rule.name in account.said
    ]
    if rows:
        lines += ["", "Failed checks of reads", *aligned(rows, right=(0,))]
    by_rule = {rule: [check for check in account.checks if check.rule == rule] for rule in PORT_RULES}
    rows = [(f"{len(some):,}", rule, PORT_RULES[rule]) for rule, some in by_rule.items() if some]
    if rows:
        lines += ["", "Failed checks of ports", *aligned(rows, right=(0,))]
        for some in by_rule.values():
            for check in some[: min(show, 2)]:
                lines += wrapped(
                    f"{check.rule}: endpoint {check.endpoint_serial} port {check.port}, meter "
                    f"{check.meter_serial or 'not known'}: {check.says}.",
                    indent=4,
                )
    rows = [
        (f"{account.said[rule.name]:,}", rule.name, rule.meaning)
        for rule in READ_RULES
        if not rule.failed and rule.name in account.said
    ]
    if rows:
        lines += ["", "Set aside, no failure", *aligned(rows, right=(0,))]
    if account.worst and show:
        head = [("endpoint", "port", "meter", "reads", "failed", "estimated", "left", "checks")]
        table = [
            (
                port.endpoint_serial, str(port.port), port.meter_serial or "-", f"{port.reads:,}", f"{port.failed:,}",
                f"{port.missing:,}", f"{port.left:,}", ", ".join(f"{name} {count:,}" for name, count in port.rules),
            )
            for port in account.worst[:show]
        ]  # fmt: skip
        lines += ["", "Ports with the most failed and missing reads", *aligned(head + table, right=(1, 3, 4, 5, 6))]
    if account.bad_rows:
        lines += ["", "Rows left out"]
        lines += [f"  {name}: {counted(count, 'bad row')} (dialtrue watch says which)" for name, count in
                  account.bad_rows.items()]  # fmt: skip
    if account.notes:
        lines += ["", "Said while reading the files"]
        for sentence in account.notes:
            lines += wrapped(sentence, indent=2)
    return lines


def validation_document(account: ValidationAccount) -> dict[str, Any]:
    """Return an account as JSON takes it."""
    document = dataclasses.asdict(account)
    document["left"] = [
        {"why": why, "gaps": some, "missing": missing} for why, (some, missing) in account.left.items()
    ]  # fmt: skip
    for port in document["worst"]:
        port["rules"] = dict(port["rules"])
    return {"failed": account.failed, "estimated": account.estimated, **document}
