"""The table of validated reads."""

from __future__ import annotations

from typing import Final

from dialtrue.domain.table_form import Column, Table

VALIDATED_READS: Final = Table(
    "validated",
    "Every read as it was sent and every estimate beside it, in order of endpoint, port and time.",
    (
        Column("endpoint_serial", "text", True, "on the endpoint's label"),
        Column("port", "int", True, "pulse input of the endpoint", minimum=1, maximum=99),
        Column("at", "time", True, "when the index was latched, or would have been"),
        Column("index", "int", False, "as sent; blank where no read came", minimum=0),
        Column("estimate", "int", False, "estimated index; blank where a read stands", minimum=0),
        Column(
            "quality", "int", True,
            "17 validated, 14 raw, 10 questionable; 9 interpolated, 8 from like days, 11 from other days or evenly",
        ),
        Column("rule", "text", False, "checks that failed, why a read was set aside, or how the estimate was made"),
        Column("low", "int", False, "lower end of the estimate's 90 % interval", minimum=0),
        Column("high", "int", False, "upper end of it, below low where the index comes round between", minimum=0),
    ),
    out=True,
)  # fmt: skip
