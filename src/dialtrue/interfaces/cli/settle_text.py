"""A settlement in plain text and as JSON: what it comes to, account by account, then what could not be put right."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from dialtrue.domain.claims.claim_rule import DEFER
from dialtrue.domain.figures import figure
from dialtrue.domain.quantity import convert
from dialtrue.domain.settlement.adjustment import Adjustment
from dialtrue.domain.words import counted, printable
from dialtrue.interfaces.cli.output import aligned, wrapped

if TYPE_CHECKING:  # the service draws in the table library, which help must not wait for
    from dialtrue.services.settle import Settlement

FORM = "dialtrue.settle/1"


def settle_lines(settlement: Settlement, *, show: int) -> list[str]:
    """Print a settlement. Never raises."""
    registers: dict[tuple[str, str, str], list[Adjustment]] = {}
    for row in settlement.adjustments:
        registers.setdefault((row.account, row.meter_serial, row.register_role), []).append(row)
    moved = {key: rows for key, rows in registers.items() if any(row.difference for row in rows)}
    lines = wrapped(_summary(settlement, moved), indent=0)
    if moved:
        lines += ["", "By register"]
        head = ("account", "meter", "periods", "billed", "corrected", "difference", "unit", "method", "claimed")
        table = [head, *(_register_row(key, rows) for key, rows in list(moved.items())[:show])]
        lines += aligned(table, right=(2, 3, 4, 5, 8))
        if len(moved) > show:
            lines.append(
                f"  and {len(moved) - show:,} more: add --show {len(moved)}, or --out adjustments.csv for all."
            )
        lines += ["", "Why, for each"]
        for (account, meter, role), rows in list(moved.items())[:show]:
            name = meter if role == "single" else f"{meter} {role}"
            lines += wrapped(
                f"{rows[0].finding} ({rows[0].basis}). {rows[0].rule}.", label=f"{printable(name)}  ", indent=2
            )
            claim = settlement.claims.get((account, meter, role))
            if claim is not None:
                lines += wrapped(claim.sentence.replace(f" {DEFER}", ""), indent=4)
    if settlement.left_out:
        lines += ["", "Not put right"]
        for left in settlement.left_out[:show]:
            name = left.meter_serial if left.register_role == "single" else f"{left.meter_serial} {left.register_role}"
            when = f", {left.period}" if left.period else ""
            lines += wrapped(
                f"{left.finding}{when}: {left.why}.".replace("..", "."), label=f"{printable(name)}  ", indent=2
            )
        if len(settlement.left_out) > show:
            lines.append(f"  and {len(settlement.left_out) - show:,} more: add --show {len(settlement.left_out)}.")
    if settlement.waiting:
        lines += ["", *wrapped(_waiting(settlement), indent=0)]
    lines += ["", *wrapped(DEFER, indent=0)]
    return lines


def _summary(settlement: Settlement, moved: dict[tuple[str, str, str], list[Adjustment]]) -> str:
    """Say what it comes to."""
    rows = settlement.adjustments
    if not rows and not settlement.left_out:
        return "Nothing to put right."
    short = sum(sum(row.difference for row in found) > 0 for found in moved.values())
    amounts = [row.amount_difference for row in rows]
    money = ""
    if rows and all(amount is not None for amount in amounts):
        under = sum((amount for amount in amounts if amount is not None and amount > 0), Decimal(0))
        over = sum((amount for amount in amounts if amount is not None and amount < 0), Decimal(0))
        money = f" In money: {under:,} too little and {-over:,} too much, {rows[0].currency}.".replace(", .", ".")
    return (
        f"{counted(len(moved), 'register')} put right over {counted(sum(map(len, moved.values())), 'period')}: "
        f"{short} billed too little, {len(moved) - short} too much; {len(settlement.left_out)} could not be.{money}"
    )


def _register_row(key: tuple[str, str, str], rows: list[Adjustment]) -> tuple[str, ...]:
    """Sum a register's periods for the table."""
    account, meter, role = key
    unit = rows[0].unit
    billed, corrected = (
        sum((convert(getattr(row, name), row.unit, unit) for row in rows), Fraction(0))
        for name in ("billed", "corrected")
    )
    methods = ", ".join(dict.fromkeys(row.method for row in rows))
    money = [row.claimed_amount for row in rows]
    if money and None not in money:
        claimed = f"{sum((each for each in money if each is not None), Decimal(0)):,}"
    else:
        claimed = figure(sum((row.claimed or Fraction(0) for row in rows), Fraction(0)), places=0) + f" {unit}"
    name = meter if role == "single" else f"{meter} {role}"
    return (
        printable(account)[:14], printable(name)[:18], str(len(rows)), figure(billed, places=1),
        figure(corrected, places=1), figure(corrected - billed, places=1, sign=True), unit, methods, claimed,
    )  # fmt: skip


def _waiting(settlement: Settlement) -> str:
    """Say which findings wait."""
    shown = ", ".join(printable(finding.meter_serial) for finding in settlement.waiting[:5])
    more = f" and {len(settlement.waiting) - 5:,} more" if len(settlement.waiting) > 5 else ""
    return (
        f"{counted(len(settlement.waiting), 'finding')} wait for somebody to look and write it into checks: "
        f"{shown}{more}. --assume settles the probable ones now, and says so."
    )


def settle_document(settlement: Settlement) -> dict[str, Any]:
    """Return the document of ``dialtrue settle --json``; a key is never renamed within a form. Never raises."""
    from dialtrue.files.adjustments_out import adjustments_table

    rows = adjustments_table(settlement.adjustments).to_pylist()
    for row in rows:
        row["period_start"], row["period_end"] = str(row["period_start"]), str(row["period_end"])
    return {
        "form": FORM,
        "adjustments": rows,
        "left_out": [
            {
                "meter_serial": left.meter_serial, "register_role": left.register_role, "finding": left.finding,
                "period": left.period, "why": left.why,
            }
            for left in settlement.left_out
        ],
        "waiting": [finding.meter_serial for finding in settlement.waiting],
        "said": list(settlement.said),
        "notice": DEFER,
    }  # fmt: skip
