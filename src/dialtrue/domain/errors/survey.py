"""Errors of the survey's settings and of the list it is held against; exit codes 14 and 19."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class UnknownSurveySetting(DialtrueError):
    """A name in the table [survey] that means nothing."""

    code = "UNKNOWN-SURVEY-SETTING"
    exit_code = 19
    message = "{file}: there is no setting {key}."
    remedy = "The nearest names are {nearest}."
    example = {"file": "programme.toml", "key": "survey.chek_digit", "nearest": "survey.check_digit"}


class BadSurveySetting(DialtrueError):
    """A setting of the survey that is of the wrong kind, or out of its range."""

    code = "BAD-SURVEY-SETTING"
    exit_code = 19
    message = "{file}: {key} is {value}."
    remedy = "Write {expected}."
    example = {
        "file": "programme.toml",
        "key": "survey.check_digit",
        "value": "'lune'",
        "expected": "one of luhn, gs1, code39, mod_97_10, mod_11_2",
    }


class UnknownDecision(DialtrueError):
    """A repair was accepted or refused that the survey does not offer."""

    code = "UNKNOWN-DECISION"
    exit_code = 2
    message = "The survey of this folder offers no repair {key!r}."
    remedy = "Name a key, or a leading part of one: {offered}."
    example = {"key": "zeros:sites:417734", "offered": "zeros:sites:417733"}


class AnswerMissing(DialtrueError):
    """A question was accepted as if it were a proposal."""

    code = "ANSWER-MISSING"
    exit_code = 2
    message = "{key} asks what the cell should read; there is nothing to accept yet."
    remedy = (
        "Write the answer into becomes in repairs.csv, with accept beside it; or refuse the key if the cell is right."
    )
    example = {"key": "duplicate:sites:00417738:S9"}
