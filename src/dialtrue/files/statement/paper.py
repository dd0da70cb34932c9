"""The statement of an account on paper, set by typst with its own fonts."""

from __future__ import annotations

import json
from collections.abc import Sequence
from decimal import Decimal
from importlib import resources
from typing import Any, Final

from dialtrue.domain.errors import ExtraMissing
from dialtrue.domain.figures import figure
from dialtrue.domain.settlement.statement import Statement, account_headline, money_texts
from dialtrue.files.statement.bars import bars_svg, left_off

_PAPERS: Final = {"letter": "us-letter", "a4": "a4"}


def statement_pdf(statements: Sequence[Statement], *, utility: str, paper: str = "letter") -> bytes:
    """Set the statement of one account.

    Parameters
    ----------
    statements : sequence of Statement
        A part for each register; one or more.
    utility : str
        Who writes.
    paper : str
        ``letter`` or ``a4``.

    Returns
    -------
    bytes
        A PDF, tagged, with title and language; the same statement gives the same bytes.

    Raises
    ------
    ExtraMissing
        typst is not installed.
    """
    try:
        import typst
    except ImportError:
        raise ExtraMissing(what="A statement on paper", package="typst", extra="paper") from None
    source = (resources.files("dialtrue.files.statement") / "statement.typ").read_bytes()
    fonts = typst.Fonts(include_system_fonts=False)
    text = json.dumps(_data(statements, utility, _PAPERS[paper]), ensure_ascii=False, separators=(",", ":"))
    compiler = typst.Compiler(source, font_paths=fonts, sys_inputs={"data": text})
    pdf = compiler.compile(input=source, format="pdf")
    assert isinstance(pdf, bytes)
    return pdf


def _data(statements: Sequence[Statement], utility: str, paper: str) -> dict[str, Any]:
    """Return what the template prints."""
    first = statements[0]
    return {
        "title": f"A bill put right, account {first.account}",
        "paper": paper,
        "utility": utility,
        "made": f"{first.made:%d %B %Y}",
        "notice": first.notice,
        "headline": account_headline(statements),
        "account": first.account or "not on record",
        "parts": [
            {**_part(each), **({"claim": ""} if each.claim in {one.claim for one in statements[:place]} else {})}
            for place, each in enumerate(statements)
        ],
    }


def _part(each: Statement) -> dict[str, Any]:
    """Return one register's part."""
    money = all(period.amount_corrected is not None for period in each.periods)
    head = ["Period", f"Billed, {each.unit}", f"Should be, {each.unit}", "Range"]
    if money:
        head += [f"Billed, {each.currency}".rstrip(", "), f"Should be, {each.currency}".rstrip(", ")]
    billed = money_texts([period.amount_billed or Decimal(0) for period in each.periods])
    corrected = money_texts([period.amount_corrected or Decimal(0) for period in each.periods])
    rows = []
    for place, period in enumerate(each.periods):
        exact = period.low == period.high
        span = "exact" if exact else f"{figure(period.low, places=2)} to {figure(period.high, places=2)}"
        row = [period.name, figure(period.billed, places=2), figure(period.corrected, places=2), span]
        if money:
            row += [billed[place], corrected[place]]
        rows.append(row)
    return {
        "meter": each.meter,
        "what": each.what,
        "claim": each.claim,
        "sure": f"{each.sure} {left_off(each.periods, page=False)}".rstrip(),
        "how": each.how,
        "svg": bars_svg(each.periods, each.unit, page=False),
        "head": head,
        "rows": rows,
        "looks": [{"at": f"{look.at:%d %B %Y}", "dial": look.dial} for look in each.looks],
    }
