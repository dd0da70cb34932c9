"""Write the statements of a settlement: a page and a PDF for each account."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

from dialtrue.domain.errors import ExtraMissing
from dialtrue.domain.settlement.adjustment import Adjustment
from dialtrue.domain.settlement.statement import DialSeen, Statement, statement_of
from dialtrue.files.statement.page import write_statement_page
from dialtrue.files.statement.paper import statement_pdf
from dialtrue.files.tables_out import write_atomically
from dialtrue.services.settle import Settlement

_MOST_LOOKS = 4


def statements_of(settlement: Settlement, *, at: dt.datetime) -> dict[str, list[Statement]]:
    """Return the statements by account, or by meter where no account is on record; registers that changed only.

    Never raises.
    """
    rows: dict[tuple[str, str, str], list[Adjustment]] = {}
    for row in settlement.adjustments:
        rows.setdefault((row.account or row.meter_serial, row.meter_serial, row.register_role), []).append(row)
    found: dict[str, list[Statement]] = {}
    for (account, meter, role), held in rows.items():
        if not any(row.difference for row in held):
            continue
        record = settlement.records[meter, role]
        looks = [DialSeen(moment.date(), text) for moment, text in record.looks[-_MOST_LOOKS:]]
        made = statement_of(
            held, looks=looks, claim=settlement.claims.get((held[0].account, meter, role)), made=at.date()
        )
        found.setdefault(account, []).append(made)
    return found


def write_statements(
    folder: Path, settlement: Settlement, *, at: dt.datetime, utility: str = "", paper: str = "letter",
    dry_run: bool = False,
) -> int:  # fmt: skip
    """Write a page and a PDF for each account; return how many accounts there are.

    Where the typesetter is not installed the pages are written alone, and ExtraMissing is raised after them.

    Raises
    ------
    OutputNotWritten
        The system refused.
    ExtraMissing
        typst is not installed; the pages stand.
    """
    found = statements_of(settlement, at=at)
    if dry_run:
        return len(found)
    missing: ExtraMissing | None = None
    names: set[str] = set()
    for account, statements in found.items():
        stem = _file_name(account, names)
        write_statement_page(folder / f"{stem}.html", statements, utility=utility or "Water utility")
        if missing is None:
            try:
                pdf = statement_pdf(statements, utility=utility or "Water utility", paper=paper)
            except ExtraMissing as why:
                missing = why
                continue
            write_atomically(folder / f"{stem}.pdf", lambda sink, pdf=pdf: sink.write(pdf))  # type: ignore[misc]
    if missing is not None:
        raise missing
    return len(found)


def _file_name(account: str, taken: set[str]) -> str:
    """Return a file name for an account that no other one has."""
    plain = re.sub(r"-{2,}", "-", re.sub(r"[^A-Za-z0-9._-]+", "-", account)).strip(".-")[:80] or "account"
    name, number = plain, 2
    while name.lower() in taken:
        name, number = f"{plain}-{number}", number + 1
    taken.add(name.lower())
    return name
