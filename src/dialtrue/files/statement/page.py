"""The statement of an account as a page."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path
from typing import Final

from dialtrue.domain.figures import figure
from dialtrue.domain.settlement.statement import Statement, account_headline, money_texts
from dialtrue.files.report.markup import safe, serial, table
from dialtrue.files.report.whole_page import whole_page, write_page
from dialtrue.files.statement.bars import bars_svg, left_off

_STYLE: Final = """
.bars svg{width:100%;max-width:46rem}.bars text{font-size:13px;fill:var(--ink)}
.bars .billed{fill:none;stroke:var(--ink);stroke-width:1.2}.bars .true{fill:var(--water)}
.bars .range,.bars .zero{stroke:var(--ink);fill:none;stroke-width:1.5}
.key span{margin-right:1.5rem}section>p:last-child{margin-top:1rem}
@media print{section{break-inside:avoid}}
"""


def statement_page(statements: Sequence[Statement], *, utility: str) -> str:
    """Return the page of one account: a section a register. Never raises."""
    first = statements[0]
    header = (
        f'<p class="summary">{safe(account_headline(statements))}</p>'
        f'<p class="small">Account <bdi>{serial(first.account or "not on record")}</bdi> · {first.made:%d %B %Y}</p>'
    )
    main = "".join(
        _section(place, each, tell_claim=each.claim not in {before.claim for before in statements[:place]})
        for place, each in enumerate(statements)
    )
    footer = f'<footer><p class="small">{safe(first.notice)}</p></footer>'
    return whole_page(
        f"{utility}: a bill put right", header=header, main=main, footer=footer, skip="To the figures", style=_STYLE
    )


def _section(place: int, each: Statement, *, tell_claim: bool) -> str:
    """Lay out one register."""
    money = all(period.amount_corrected is not None for period in each.periods)
    head = ["period", f"billed, {each.unit}", f"should be, {each.unit}", "range"]
    if money:
        head += [f"billed, {each.currency}".rstrip(", "), f"should be, {each.currency}".rstrip(", ")]
        head.append(f"difference, {each.currency}".rstrip(", "))
    columns = _money_columns(each) if money else []
    rows = []
    for place_of, period in enumerate(each.periods):
        exact = period.low == period.high
        span = "exact" if exact else f"{figure(period.low, places=2)} to {figure(period.high, places=2)}"
        row = [safe(period.name), figure(period.billed, places=2), figure(period.corrected, places=2), safe(span)]
        rows.append(row + [column[place_of] for column in columns])
    looks = ""
    if each.looks:
        seen = [[f"{look.at:%d %B %Y}", serial(look.dial)] for look in each.looks]
        looks = table(["day", "register as read"], seen, caption="Readings of the register on your meter")
    # The registers of a compound meter are claimed together: it is said once.
    claim = f'<p class="next">{safe(each.claim)}</p>' if each.claim and tell_claim else ""
    said = f"{each.sure} {left_off(each.periods)}".rstrip()
    pictures = bars_svg(each.periods, each.unit) + bars_svg(each.periods, each.unit, phone=True)
    figure_part = (
        '<figure class="chart bars">'
        '<p class="small key"><span>▭ as billed</span><span>▬ as it should have been</span></p>'
        f"{pictures}<figcaption>{safe(said)}</figcaption></figure>"
    )
    caption = "Every period, as billed and as it should have been"
    return (
        f'<section id="register-{place}" aria-labelledby="register-{place}-t">'
        f'<h2 id="register-{place}-t">Meter {serial(each.meter)}</h2><p>{safe(each.what)}</p>{claim}{figure_part}'
        f"{table(head, rows, caption=caption, right=range(1, len(head)), hide_on_phone=(3, 4, 5) if money else (3,))}"
        f"{looks}<p>{safe(each.how)}</p></section>"
    )


def _money_columns(each: Statement) -> list[list[str]]:
    """Return the columns of money: billed, as it should have been, and what lies between."""
    billed = [period.amount_billed or Decimal(0) for period in each.periods]
    corrected = [period.amount_corrected or Decimal(0) for period in each.periods]
    apart = [after - before for before, after in zip(billed, corrected, strict=True)]
    return [money_texts(billed), money_texts(corrected), money_texts(apart, sign=True)]


def write_statement_page(path: Path, statements: Sequence[Statement], *, utility: str) -> None:
    """Write the page; raises as ``write_page`` does."""
    write_page(path, statement_page(statements, utility=utility))
