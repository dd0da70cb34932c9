"""Errors of rates and claims."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class RateTableFault(DialtrueError):
    """A rate table with a hole or a fold."""

    code = "RATE-TABLE"
    exit_code = 50
    message = "The rate table {key!r} cannot be used: {says}."
    remedy = "In rates.toml: {how}."
    example = {
        "key": "home",
        "says": "the version of 2025-01-01 has no price above 20 m3",
        "how": "add a last block without an end",
    }


class NegativeUse(DialtrueError):
    """A volume below nought was to be priced."""

    code = "NEGATIVE-USE"
    exit_code = 51
    message = "The use from {start} to {end} is {volume} {unit}: a volume below nought is not billed."
    remedy = "Find out why first: dial exchanged, zero dropped, wrong meter, flow backwards."
    example = {"volume": "−12", "unit": "m3", "start": "2025-01-01", "end": "2025-04-01"}


class BackwardPeriod(DialtrueError):
    """A billing period that has no day."""

    code = "BACKWARD-PERIOD"
    exit_code = 52
    message = "The period from {start} to {end} has no day."
    remedy = "Mend its days: a period runs from the day of one read to the day of the next."
    example = {"start": "2025-04-01", "end": "2025-04-01"}


class ClaimRuleFault(DialtrueError):
    """A claim rule that cannot be used."""

    code = "CLAIM-RULE"
    exit_code = 53
    message = "The claim rule {key!r} cannot be used: {says}."
    remedy = "In the settings of the programme: {how}."
    example = {"key": "under", "says": "share is 2", "how": "write a share from 0 to 1"}
