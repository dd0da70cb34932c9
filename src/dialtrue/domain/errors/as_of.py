"""Errors of looking back: a moment that cannot be, or at which nothing was known."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class BadMoment(DialtrueError):
    """A moment was named that is no day and no time."""

    code = "BAD-MOMENT"
    exit_code = 2
    message = "{option} {text!r} is no day and no time."
    remedy = "Write a day such as 2026-03-31 (its end is meant), or a time such as 2026-03-31T14:05:00Z."
    example = {"option": "--as-of", "text": "31/3/26"}


class MomentAhead(DialtrueError):
    """A moment was named that has not come yet."""

    code = "MOMENT-AHEAD"
    exit_code = 2
    message = "{option} {text!r} lies ahead: it is {now} now."
    remedy = "Name a day or time that has passed; leave the option out to judge with all that is known today."
    example = {"option": "--as-of", "text": "2031-01-01", "now": "2026-06-01 00:00 UTC"}


class NothingKnownYet(DialtrueError):
    """At the moment asked for, no fitting had been made and no read had come."""

    code = "NOTHING-KNOWN-YET"
    exit_code = 40
    message = "{folder}: nothing was known at {moment}; the first fitting or read comes later."
    remedy = "Name a later moment."
    example = {"folder": "programme", "moment": "2019-01-01 00:00 UTC"}


class BadStep(DialtrueError):
    """A step between runs was named that is no whole number of days or hours."""

    code = "BAD-STEP"
    exit_code = 2
    message = "--every {text!r} is no step between runs."
    remedy = "Write a whole number of days or hours above zero, such as 7d or 12h."
    example = {"text": "weekly"}


class StepsBackwards(DialtrueError):
    """A replay was asked to end before it begins."""

    code = "STEPS-BACKWARDS"
    exit_code = 2
    message = "The replay would begin at {first} and end at {last}: no run lies between."
    remedy = "Name a --to that lies after --from, or leave them out to replay from the first read to the last."
    example = {"first": "2026-05-01 00:00 UTC", "last": "2026-04-01 00:00 UTC"}
