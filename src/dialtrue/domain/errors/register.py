"""Errors of dials, indexes and the arithmetic between them."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class BadDialShape(DialtrueError):
    """A dial that no register can have."""

    code = "DIAL-SHAPE"
    exit_code = 10
    message = "The dial's {what} is {value}; it must be {limit}."
    remedy = "Count the moving digits and the painted zeros on the register's face again, and correct the survey."
    example = {"what": "number of moving digits", "value": "0", "limit": "1 or more"}


class BadIndexShape(DialtrueError):
    """An index that no endpoint can send."""

    code = "INDEX-SHAPE"
    exit_code = 10
    message = "The index's {what} is {value}; it must be {limit}."
    remedy = "Read the endpoint's setting back and correct the fitting's record."
    example = {"what": "number of digits", "value": "0", "limit": "1 or more"}


class DialPositions(DialtrueError):
    """A dial text with more or fewer positions than the dial has."""

    code = "DIAL-POSITIONS"
    exit_code = 40
    message = "The dial reading {text!r} has {seen} positions, the dial has {expected} ({face}). {hint}"
    remedy = "Write every position as seen, left to right, leading zeros and painted zeros too."
    example = {
        "text": "042137",
        "seen": 6,
        "expected": 7,
        "face": "6 moving digits, 1 painted zero",
        "hint": "The painted zero seems to be left out.",
    }


class DialCharacter(DialtrueError):
    """A dial text with something that is no digit."""

    code = "DIAL-CHARACTER"
    exit_code = 40
    message = "The dial reading {text!r} holds {character!r} at position {position}, which is no digit."
    remedy = "Write digits only: no point, comma, space or letter. Where a wheel stands between two, take the lower."
    example = {"text": "42,1370", "character": ",", "position": 3}


class PaintedZero(DialtrueError):
    """A dial text with another digit where the dial has a painted zero."""

    code = "DIAL-PAINTED-ZERO"
    exit_code = 40
    message = "The dial reading {text!r} has {digit} at position {position}, where the dial has a painted zero."
    remedy = "Look at the face again: is that position painted? If it turns, correct fixed_zeros in the survey."
    example = {"text": "0421375", "digit": "5", "position": 7}


class StartIndexText(DialtrueError):
    """A start index as keyed that the endpoint could not hold."""

    code = "START-INDEX-TEXT"
    exit_code = 40
    message = "The start index {text!r} is not a number of at most {digits} digits."
    remedy = "Copy the digits as they were keyed, without point, comma or unit."
    example = {"text": "42,137", "digits": 6}


class BadFlowBound(DialtrueError):
    """A bound, capacity or flow that makes a register question senseless."""

    code = "FLOW-BOUND"
    exit_code = 40
    message = "The {what} is {value} {unit}; it must be {limit}."
    remedy = "Check the order of the two reading times, the meter's size and its dial."
    example = {"what": "most volume that can have passed", "value": "−2,400", "unit": "gal", "limit": "0 or more"}


class BadPulseWeight(DialtrueError):
    """A volume per pulse of zero or less."""

    code = "PULSE-WEIGHT-RANGE"
    exit_code = 20
    message = "The {what} is {value} {unit} per pulse; it must be more than 0."
    remedy = "Read the pulse weight from the register's plate and correct the record."
    example = {"what": "pulse weight", "value": "0", "unit": "gal"}
