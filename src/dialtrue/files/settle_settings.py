"""The table [settle] of programme.toml, and the rate tables of rates.toml."""

from __future__ import annotations

import dataclasses
import datetime as dt
import tomllib
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

from dialtrue.domain.claims.claim_rule import EXAMPLES, ClaimRule
from dialtrue.domain.errors import BadDecimal, BadRatesFile, BadSettleSetting, FileUnreadable, UnknownSettleSetting
from dialtrue.domain.quantity import UNITS, exact_decimal, litres_per
from dialtrue.domain.settlement.periods import MONTHS
from dialtrue.domain.settlement.settings import SettleSettings
from dialtrue.domain.tariff.rate_table import Block, RateTable, RateVersion
from dialtrue.files.setting_forms import SettingForms
from dialtrue.files.settings import programme_tables

RATES_FILE: Final = "rates.toml"
_PROGRAMME: Final = "programme.toml"
_MOST_BYTES: Final = 1_000_000
_NUMBER: Final = 'a decimal number in quotes, such as "12.50"'
_RULE_NAMES: Final = tuple(field.name for field in dataclasses.fields(ClaimRule) if field.name != "most_volume_l")
_SETTLE_NAMES: Final = (
    "assume", "assume_from", "billing_unit", "billing_step", "calendar", "rules", "under", "over", "rate",
)  # fmt: skip
_RATE_NAMES: Final = ("unit", "currency", "coin", "ends", "version")
_VERSION_NAMES: Final = (
    "since", "fixed_per_bill", "fixed_per_day", "least", "basis", "nominal_days", "blocks",
)  # fmt: skip


def settle_settings(folder: Path, *, rates: Path | None = None) -> SettleSettings:
    """Return how a programme puts bills right; defaults where it is silent.

    Parameters
    ----------
    folder : Path
        The programme folder.
    rates : Path, optional
        Rate tables; ``rates.toml`` in the folder where None.

    Returns
    -------
    SettleSettings

    Raises
    ------
    UnknownSettleSetting, BadSettleSetting
        A name that means nothing, or a value out of range.
    RateTableFault, ClaimRuleFault
        A rate table with a hole, a rule out of range.
    BadProgrammeFile, BadRatesFile, FileUnreadable
        A file cannot be used at all.

    Source
    ------
    ``docs/how-to/put-a-bill-right.md``.
    """
    table = _known(programme_tables(folder).get("settle", {}), _SETTLE_NAMES, "settle", _PROGRAMME)
    given: dict[str, Any] = {}
    if "assume" in table:
        given["assume"] = _truth(table["assume"], "settle.assume")
    if "assume_from" in table:
        given["assume_from"] = float(_exact(str(table["assume_from"]), "settle.assume_from", _PROGRAMME))
    if "billing_unit" in table:
        given["billing_unit"] = _choice(table["billing_unit"], UNITS, "settle.billing_unit", _PROGRAMME)
    if "billing_step" in table:
        given["billing_step"] = _exact(table["billing_step"], "settle.billing_step", _PROGRAMME, least=1)
    if "calendar" in table:
        given["calendar"] = _choice(table["calendar"], tuple(MONTHS), "settle.calendar", _PROGRAMME)
    if "rate" in table:
        given["rate"] = str(table["rate"])
    name = _choice(table.get("rules", "everything"), tuple(EXAMPLES), "settle.rules", _PROGRAMME)
    for direction, rule in zip(("under", "over"), EXAMPLES[name], strict=True):
        given[direction] = _rule(table.get(direction, {}), rule, f"settle.{direction}")
    given["rates"] = rate_tables(folder / RATES_FILE if rates is None else rates, must=rates is not None)
    return SettleSettings(**given)


def rate_tables(path: Path, *, must: bool) -> dict[str, RateTable]:
    """Read rate tables; none where there is no file and it need not be there. Raises as ``settle_settings`` does."""
    if not path.exists() and not must:
        return {}
    try:
        with path.open("rb") as source:
            data = source.read(_MOST_BYTES + 1)
    except OSError as error:
        raise FileUnreadable(file=path.name, reason=(error.strerror or str(error)).lower()) from error
    if len(data) > _MOST_BYTES:
        raise BadRatesFile(file=path.name, reason=f"it is larger than {_MOST_BYTES:,} bytes")
    try:
        tables = tomllib.loads(data.decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise BadRatesFile(file=path.name, reason=f"it is not TOML ({str(error)[:120]})") from error
    rates = _known(tables, ("rate",), "", path.name).get("rate", {})
    if not isinstance(rates, dict):
        raise _bad(path.name, "rate", rates, "each table under its own name, [rate.home]")
    return {str(key): _rate(str(key), body, path.name) for key, body in rates.items()}


def _rate(key: str, body: Any, file: str) -> RateTable:
    """Build one rate table."""
    where = f"rate.{key}"
    held = _known(body, _RATE_NAMES, where, file)
    versions = held.get("version", [])
    if not isinstance(versions, list):
        raise _bad(file, f"{where}.version", versions, f"each version as a table of its own, [[{where}.version]]")
    more: dict[str, Any] = {}
    if "coin" in held:
        more["coin"] = _exact(held["coin"], f"{where}.coin", file)
    if "ends" in held:
        more["ends"] = _day(held["ends"], f"{where}.ends", file)
    return RateTable(
        key=key,
        unit=_choice(held.get("unit"), UNITS, f"{where}.unit", file),
        currency=str(held.get("currency", "")),
        versions=tuple(_version(each, f"{where}.version", file) for each in versions),
        **more,
    )


def _version(body: Any, where: str, file: str) -> RateVersion:
    """Build one version of a rate."""
    held = _known(body, _VERSION_NAMES, where, file)
    blocks = held.get("blocks", [])
    if not isinstance(blocks, list):
        raise _bad(file, f"{where}.blocks", blocks, 'a list such as [{upto = "4", price = "3.42"}, {price = "5.10"}]')
    given: dict[str, Any] = {
        name: _exact(held[name], f"{where}.{name}", file, least=0)
        for name in ("fixed_per_bill", "fixed_per_day", "least")
        if name in held
    }
    if "basis" in held:
        given["basis"] = _choice(held["basis"], ("bill", "day"), f"{where}.basis", file)
    if "nominal_days" in held:
        days = held["nominal_days"]
        if not isinstance(days, int) or isinstance(days, bool):
            raise _bad(file, f"{where}.nominal_days", days, "a whole number of days")
        given["nominal_days"] = days
    made = []
    for place, block in enumerate(blocks):
        inner = f"{where}.blocks[{place}]"
        figures = _known(block, ("upto", "price"), inner, file)
        upto = _exact(figures["upto"], f"{inner}.upto", file) if "upto" in figures else None
        made.append(Block(upto, _exact(figures.get("price"), f"{inner}.price", file, least=None)))
    return RateVersion(since=_day(held.get("since"), f"{where}.since", file), blocks=tuple(made), **given)


def _rule(body: Any, start: ClaimRule, where: str) -> ClaimRule:
    """Build a claim rule from an example and what the programme changes of it."""
    held = _known(body, (*_RULE_NAMES, "most_volume", "most_unit"), where, _PROGRAMME)
    given: dict[str, Any] = {}
    for name, value in held.items():
        key = f"{where}.{name}"
        if name in ("share", "tolerance", "least_amount", "interest_per_year"):
            given[name] = _exact(value, key, _PROGRAMME, least=None)
        elif name in ("half_when_unknown", "waived"):
            given[name] = _truth(value, key)
        elif name == "months_back":
            if not isinstance(value, int) or isinstance(value, bool):
                raise _bad(_PROGRAMME, key, value, "a whole number of months, without quotes")
            given[name] = value
        elif name in ("key", "source"):
            given[name] = str(value)
    if "most_volume" in held:
        unit = _choice(held.get("most_unit"), UNITS, f"{where}.most_unit", _PROGRAMME)
        volume = _exact(held["most_volume"], f"{where}.most_volume", _PROGRAMME, least=0)
        given["most_volume_l"] = volume * litres_per(unit)
    return dataclasses.replace(start, **given)


def _known(table: Any, names: Iterable[str], where: str, file: str) -> dict[str, Any]:
    """Return a table whose names are all known."""
    return _forms(file).table(table, names, where)


def _forms(file: str) -> SettingForms:
    return SettingForms(UnknownSettleSetting, BadSettleSetting, file)


def _bad(file: str, key: str, value: Any, expected: str) -> BadSettleSetting:
    return BadSettleSetting(file=file, key=key, value=repr(value)[:60], expected=expected)


def _exact(value: Any, key: str, file: str, *, least: int | None = 0) -> Fraction:
    """Return an exact number; money and shares are written in quotes, so that no binary rounding creeps in."""
    if isinstance(value, bool) or not isinstance(value, str | int):
        raise _bad(file, key, value, _NUMBER)
    try:
        number = exact_decimal(str(value))
    except BadDecimal:
        raise _bad(file, key, value, _NUMBER) from None
    if least is not None and (number < 0 or (least and number == 0)):
        raise _bad(file, key, value, f"{_NUMBER}, {'above' if least else 'not below'} nought")
    return number


def _truth(value: Any, key: str) -> bool:
    if not isinstance(value, bool):
        raise _bad(_PROGRAMME, key, value, "true or false, without quotes")
    return value


def _choice(value: Any, words: tuple[str, ...], key: str, file: str) -> Any:
    if value not in words:
        raise _bad(file, key, value, f"one of {', '.join(words)}")
    return value


def _day(value: Any, key: str, file: str) -> dt.date:
    """Return a day; TOML knows days, a text of the same form will do."""
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return value
    try:
        return dt.date.fromisoformat(str(value))
    except ValueError:
        raise _bad(file, key, value, "a day such as 2026-01-31") from None
