"""The table of programme figures: one row a figure, one a silent port."""

from __future__ import annotations

from typing import Final

from dialtrue.domain.table_form import Column, Table

FIGURES: Final = Table(
    "figures",
    "Figures of a programme, one row each; then one row for each silent port.",
    (
        Column(
            "grouped_by",
            "text",
            True,
            "all, crew, area, endpoint, output, cable, cable_lot, where_it_lies, month_begun or port",
        ),
        Column("group", "text", False, "name of the group; blank for the whole programme"),
        Column("figure", "text", True, "what is told"),
        Column("count", "int", False, "how many"),
        Column("of", "int", False, "of how many"),
        Column("share", "float", False, "count over of; blank where too few"),
        Column("low", "float", False, "lower end of the 95 % interval of the share"),
        Column("high", "float", False, "upper end of the 95 % interval of the share"),
        Column("value", "decimal", False, "a figure that is no count"),
        Column("unit", "text", False, "unit of the value: L, days, a contract unit or a currency"),
        Column("words", "text", False, "the same in words; for a silent port the next step"),
        Column("expected", "text", False, "range to expect"),
        Column("source", "text", False, "key of the source of that range, or our assumption"),
        Column("step", "text", False, "for a silent port: what is done first, as a word"),
        Column("site", "text", False, "for a silent port: the utility's own id of the place"),
        Column("meter_serial", "text", False, "for a silent port: on the meter's plate"),
        Column("endpoint_serial", "text", False, "for a silent port: on the endpoint's label"),
        Column("port", "int", False, "for a silent port: pulse input of the endpoint"),
        Column("last_heard", "time", False, "for a silent port: its last read; blank where it was never heard"),
    ),
    out=True,
)
