"""Errors of the settlement."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class CourseFault(DialtrueError):
    """Readings that make no course."""

    code = "COURSE"
    exit_code = 54
    message = "The readings make no course: {says}."
    remedy = "Look at the reads and dial reads of this meter; keep one of the two, or leave the meter out."
    example = {"says": "two readings of 2026-03-01 06:00 UTC differ"}


class PeriodFault(DialtrueError):
    """Billing periods that cannot stand together."""

    code = "PERIODS"
    exit_code = 55
    message = "The billing periods of one register do not fit together: {says}."
    remedy = "Mend the days in bills: a period runs from read to read, and the next begins where it ends."
    example = {"says": "2026-01-01 to 2026-02-01 and 2026-01-15 to 2026-03-01 overlap"}
