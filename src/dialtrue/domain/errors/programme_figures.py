"""Errors of the figures' settings; exit code 19."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class UnknownFiguresSetting(DialtrueError):
    """A name in the table [figures] that means nothing."""

    code = "UNKNOWN-FIGURES-SETTING"
    exit_code = 19
    message = "{file}: there is no setting {key}."
    remedy = "The nearest names are {nearest}."
    example = {"file": "programme.toml", "key": "figures.fresh_day", "nearest": "figures.fresh_days"}


class BadFiguresSetting(DialtrueError):
    """A setting of the figures that is of the wrong kind, or out of its range."""

    code = "BAD-FIGURES-SETTING"
    exit_code = 19
    message = "{file}: {key} is {value}."
    remedy = "Write {expected}."
    example = {
        "file": "programme.toml",
        "key": "figures.fresh_days",
        "value": "0",
        "expected": "a whole number from 1 to 90, without quotes",
    }
