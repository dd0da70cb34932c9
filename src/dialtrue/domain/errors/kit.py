"""Errors of the kit."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class PlanPartsUnreadable(DialtrueError):
    """A cell of the plan's column ``parts`` that is no list of parts."""

    code = "PLAN-PARTS"
    exit_code = 16
    message = "The plan's row {row} has {value!r} in parts, which is no list of parts and quantities: {reason}."
    remedy = "Plan again; that writes the column as it has to be."
    example = {"row": "4", "value": "splices, 2", "reason": "Expecting value"}
