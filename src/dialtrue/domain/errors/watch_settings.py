"""Errors of the watch's settings in programme.toml; exit code 19, with the other errors of that file."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class UnknownWatchSetting(DialtrueError):
    """A name in the table [watch] that means nothing."""

    code = "UNKNOWN-WATCH-SETTING"
    exit_code = 19
    message = "{file}: there is no setting {key}."
    remedy = "The nearest names are {nearest}."
    example = {"file": "programme.toml", "key": "watch.costs.wasted_vist", "nearest": "watch.costs.wasted_visit"}


class BadWatchSetting(DialtrueError):
    """A setting of the watch that is no number, or out of its range."""

    code = "BAD-WATCH-SETTING"
    exit_code = 19
    message = "{file}: {key} is {value}."
    remedy = "Write {expected}."
    example = {
        "file": "programme.toml",
        "key": "watch.costs.visit",
        "value": "-1",
        "expected": "a number above 0 and at most 1,000,000, such as 1.0",
    }


class AbsurdWatchCosts(DialtrueError):
    """Costs that are each in range but make no sense together."""

    code = "ABSURD-WATCH-COSTS"
    exit_code = 19
    message = "{file}: {what}."
    remedy = "State all costs in one currency, or leave out those you do not know; only their ratios matter."
    example = {"file": "programme.toml", "what": "watch.costs.visit is 0; a visit must cost something"}
