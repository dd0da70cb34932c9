"""Tables of what follows a finding or a finished lot: bills, adjustments, inspections."""

from __future__ import annotations

from typing import Final

from dialtrue.domain.quantity import UNITS
from dialtrue.domain.table_form import Column, Table

ROLES: Final = ("single", "high", "low")
METHODS: Final = ("exact", "differenced", "estimated")
DEFECT_GRADES: Final = ("none", "minor", "major", "critical")

_ROLE: Final = Column("register_role", "choice", False, "which register of a compound meter", ROLES, default="single")

BILLS: Final = Table(
    "bills",
    "What was billed, one row a register and billing period; periods of a register touch.",
    (
        Column("account", "text", False, "billing account; blank: the account of the site"),
        Column("meter_serial", "text", True, "on the meter's plate"),
        _ROLE,
        Column("start", "day", True, "day of the read that opens the period"),
        Column("end", "day", True, "day of the read that closes it"),
        Column("volume", "decimal", True, "billed volume"),
        Column("unit", "unit", True, "unit of the volume", choices=UNITS),
        Column("estimated", "flag", False, "true if the period was estimated"),
        Column("amount", "decimal", False, "billed money, where known"),
        Column("rate", "text", False, "key of the rate table"),
    ),
    "without bills the billed volume of a period is taken from the reads, over the periods of the calendar",
    later=True,
)

INSPECTIONS: Final = Table(
    "inspections",
    "What an inspector found at a site that was drawn.",
    (
        Column("lot", "text", True, "the lot, as the draw named it"),
        Column("site", "text", True, "the utility's own id of the place"),
        Column("meter_serial", "text", False, "on the meter's plate; blank: the site as a whole"),
        Column("inspected_at", "time", True, "when it was looked at"),
        Column("inspector", "text", False, "who looked"),
        Column(
            "grade",
            "choice",
            True,
            "worst defect found; no_access where nobody could look",
            (*DEFECT_GRADES, "no_access"),
        ),
        Column("defect", "text", False, "what was wrong"),
        Column("dial", "digits", False, "fresh dial read, every position"),
        Column("index", "int", False, "index at the same moment", minimum=0),
        Column("note", "text", False, "free words"),
    ),
    "without inspections a lot can be drawn, not judged",
    later=True,
)

ADJUSTMENTS: Final = Table(
    "adjustments",
    "What a wrong count did to each billing period, and what it should have been.",
    (
        Column("meter_serial", "text", True, "on the meter's plate"),
        _ROLE,
        Column("account", "text", False, "billing account"),
        Column("period_start", "day", True, "day of the read that opens the period"),
        Column("period_end", "day", True, "day of the read that closes it"),
        Column("billed", "decimal", True, "volume as billed"),
        Column("corrected", "decimal", True, "volume as it should have been"),
        Column("difference", "decimal", True, "corrected less billed"),
        Column("unit", "unit", True, "unit of the volumes", choices=UNITS),
        Column("method", "choice", True, "how the corrected volume was found", METHODS),
        Column("low", "decimal", True, "lower end of the 90 % interval of corrected"),
        Column("high", "decimal", True, "upper end of the 90 % interval of corrected"),
        Column("rule", "text", True, "the rule that chose the method, with its figures"),
        Column("finding", "text", True, "fault code and port that led here"),
        Column("basis", "choice", True, "whether somebody confirmed the finding", ("confirmed", "assumed")),
        Column("amount_billed", "decimal", False, "money as billed"),
        Column("amount_corrected", "decimal", False, "money as it should have been, by the rate in force then"),
        Column("amount_difference", "decimal", False, "corrected less billed"),
        Column("currency", "text", False, "as the rate table names it"),
        Column("claimed", "decimal", False, "difference that the local rule lets the utility claim or makes it refund"),
        Column("claimed_amount", "decimal", False, "the same in money"),
        Column("claim_rule", "text", False, "the local rule that was applied"),
    ),
    out=True,
)

SETTLEMENT_IN: Final = (BILLS, INSPECTIONS)
SETTLEMENT_OUT: Final = (ADJUSTMENTS,)
