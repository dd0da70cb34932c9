"""Errors of naming one port of a programme: exit codes 41 and 42."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class MeterUnknown(DialtrueError):
    """No fitting and no site of the programme has this meter serial."""

    code = "METER-UNKNOWN"
    exit_code = 41
    message = "No fitting in {folder} names a meter {meter}."
    remedy = "{near}"
    example = {"folder": "programme", "meter": "123", "near": "Did you mean 00123? Serials are text: zeros count."}


class MeterNotFitted(DialtrueError):
    """The survey has the meter, but no endpoint is fitted to it, so there is nothing to explain."""

    code = "METER-NOT-FITTED"
    exit_code = 42
    message = "Meter {meter} stands in sites, but no fitting names it."
    remedy = "Enter its fitting in fittings.csv, or ask for another meter."
    example = {"meter": "W-1042"}


class PortUnknown(DialtrueError):
    """The meter is fitted, but not with the endpoint, port or register that was asked for."""

    code = "PORT-UNKNOWN"
    exit_code = 42
    message = "Meter {meter} has no fitting with {asked}."
    remedy = "Its fittings are: {fittings}."
    example = {
        "meter": "W-1042",
        "asked": "port 3",
        "fittings": "endpoint 81000042 port 1 (high), endpoint 81000042 port 2 (low)",
    }
