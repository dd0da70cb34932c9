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

DRAW_PARTS: Final = ("whole", "sample", "reserve", "replacement")

DRAW: Final = Table(
    "draw",
    "Which sites of a lot are inspected: every site of every lot drawn, with the seed, the plan and the lot's hash.",
    (
        Column("lot", "text", True, "name of the lot and of the round: a second sample ends in #2"),
        Column("lot_of", "text", True, "name of the lot"),
        Column("lot_by", "text", True, "how the lot was made: crew_week, cable_lot or a column"),
        Column("site", "text", True, "the utility's own id of the place"),
        Column("crew", "text", False, "who fitted it"),
        Column("kind", "text", False, "meter kind"),
        Column("part", "choice", True, "whole: inspected in any case; reserve: not drawn", DRAW_PARTS),
        Column("position", "int", True, "place within the part, by key", minimum=1),
        Column("key", "text", True, "SHA-256 of seed|lot|site; the least of each crew and kind are drawn"),
        Column("seed", "text", True, "fixed before"),
        Column("level", "text", True, "inspection level"),
        Column("severity", "choice", True, "how strictly", ("normal", "tightened", "reduced")),
        Column("plan", "text", True, "greatest number of bad sites in so many, for each grade"),
        Column("population", "int", True, "sites of the lot when it was drawn", minimum=1),
        Column("population_hash", "text", True, "SHA-256 of the lot as it was drawn from"),
        Column("drawn_at", "time", True, "when it was drawn"),
        Column("replaces", "text", False, "for a replacement: the site that nobody could see"),
        Column("reason", "text", False, "why it was replaced"),
        Column("by", "text", False, "who allowed it"),
    ),
    "without a draw no inspection counts: nobody can tell that the sites were not chosen",
    later=True,
)

SETTLEMENT_IN: Final = (BILLS, INSPECTIONS, DRAW)
SETTLEMENT_OUT: Final = (ADJUSTMENTS,)
