"""Errors of rates.toml and of the table [settle] in programme.toml."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class UnknownSettleSetting(DialtrueError):
    """A name in [settle] or in rates.toml that means nothing."""

    code = "UNKNOWN-SETTLE-SETTING"
    exit_code = 19
    message = "{file}: there is no setting {key}."
    remedy = "The nearest names are {nearest}."
    example = {"file": "programme.toml", "key": "settle.undr", "nearest": "settle.under"}


class BadSettleSetting(DialtrueError):
    """A setting of the settlement that is out of range or not in its form."""

    code = "BAD-SETTLE-SETTING"
    exit_code = 19
    message = "{file}: {key} is {value}."
    remedy = "Write {expected}."
    example = {
        "file": "rates.toml",
        "key": "rate.home.fixed_per_bill",
        "value": "12,50",
        "expected": 'a decimal number in quotes, such as "12.50"',
    }


class BadRatesFile(DialtrueError):
    """Rate tables that cannot be read at all."""

    code = "BAD-RATES-FILE"
    exit_code = 19
    message = "{file} cannot be used: {reason}."
    remedy = (
        "Write each rate as a table, [rate.home] with unit and currency, and its versions as [[rate.home.version]]."
    )
    example = {"file": "rates.toml", "reason": "it is not TOML"}
