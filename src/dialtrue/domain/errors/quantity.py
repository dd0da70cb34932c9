"""Errors of numbers and units."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class UnknownUnit(DialtrueError):
    """A unit name that the contract does not know."""

    code = "UNKNOWN-UNIT"
    exit_code = 2
    message = "The unit {unit!r} is not known."
    remedy = "Use one of {allowed}."
    example = {"unit": "CF", "allowed": "L, m3, gal, gal_imp, ft3, ccf, kgal, acre_ft"}


class BadDecimal(DialtrueError):
    """A text that is no finite decimal number."""

    code = "BAD-DECIMAL"
    exit_code = 2
    message = "{text!r} is not a decimal number."
    remedy = "Write digits with a point, such as 0.1 or 100."
    example = {"text": "1,5"}
