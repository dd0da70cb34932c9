"""The tables that are handed over, as data: every form, its schema and its page of reference follow from here."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final, Literal

from dialtrue.domain.contracts import LOOPS, ROLES
from dialtrue.domain.faults import FAULTS
from dialtrue.domain.handover.port import QUALITIES
from dialtrue.domain.quantity import UNITS

Kind = Literal["string", "integer", "number", "datetime"]


@dataclass(frozen=True, slots=True)
class Field:
    """One column: its name, its type as a Table Schema calls it, its meaning with unit, its constraints.

    ``personal`` columns are left out where accounts are.
    """

    name: str
    kind: Kind
    meaning: str
    required: bool = True
    limits: dict[str, Any] = field(default_factory=dict)
    personal: bool = False


@dataclass(frozen=True, slots=True)
class HandedTable:
    """A table that is handed over; ``key`` names the columns that no two rows share."""

    name: str
    title: str
    fields: tuple[Field, ...]
    key: tuple[str, ...]

    def shown(self, *, personal: bool) -> tuple[Field, ...]:
        """Return the columns that are written, with or without those that point at a customer."""
        return tuple(item for item in self.fields if personal or not item.personal)


_PORT: Final = Field("port", "integer", "pulse input of the endpoint", limits={"minimum": 1, "maximum": 99})
_ENDPOINT: Final = Field(
    "endpoint_serial", "string", "on the endpoint's label; a keyed hash where accounts are left out"
)
_METER: Final = Field("meter_serial", "string", "on the meter's plate", personal=True)
_ROLE: Final = Field("register_role", "string", "which register of a compound meter", limits={"enum": list(ROLES)})
_UNIT: Final = {"enum": list(UNITS)}

INSTALLS: Final = HandedTable(
    "installs",
    "One row per fitted port that passed the rules.",
    (
        Field("site", "string", "the utility's own id of the place", False, personal=True),
        Field("account", "string", "billing account", False, personal=True),
        _METER,
        _ROLE,
        _ENDPOINT,
        _PORT,
        Field("fitted_at", "datetime", "when it was fitted, UTC"),
        Field("dial_at_fit", "string", "every position of the dial as seen, painted zeros too, no point", False,
              {"pattern": "[0-9]+"}),
        Field("start_index", "string", "as keyed, in index digits", False, {"pattern": "[0-9]+"}),
        Field("index_digits", "integer", "digits before the index comes round", False, {"minimum": 1, "maximum": 18}),
        Field("index_unit", "string", "unit of the index", limits=_UNIT),
        Field("index_resolution", "number", "value of one count [index_unit]"),
        Field("weight_set", "number", "volume per pulse that the endpoint was told [weight_unit]", False),
        Field("weight_unit", "string", "unit of weight_set", False, _UNIT),
        Field("tamper_loop", "string", "how the tamper loop was left", False, {"enum": list(LOOPS)}),
        Field("volume_unit", "string", "unit of volume in reads: the dial's where that is exact, else the index's own",
              limits=_UNIT),
        Field("valid_from", "datetime", "reads from here on are handed over, UTC: the fitting, or a repair"),
        Field("verdict", "string", "what the watch found", False, {"enum": list(FAULTS)}),
        Field("probability", "number", "probability of that verdict", False, {"minimum": 0, "maximum": 1}),
        Field("status", "string", "accepted, or doubtful where such are asked for",
              limits={"enum": ["accepted", "doubtful"]}),
    ),
    ("endpoint_serial", "port", "fitted_at"),
)  # fmt: skip

READS_OUT: Final = HandedTable(
    "reads",
    "One row per read of those ports, sorted by endpoint, port and time.",
    (
        _ENDPOINT,
        _PORT,
        Field("at", "datetime", "when the index was latched, UTC"),
        Field("index", "integer", "count of index_resolution units, as sent", limits={"minimum": 0}),
        _METER,
        _ROLE,
        Field("volume", "number", "what the index stands for [unit]; exact; it comes round with the index",
              limits={"minimum": 0}),
        Field("unit", "string", "unit of volume", limits=_UNIT),
        Field("quality", "string", "checked, not checked, estimated and how, or questionable",
              limits={"enum": list(QUALITIES)}),
    ),
    ("endpoint_serial", "port", "at"),
)  # fmt: skip

LEFT_OUT: Final = HandedTable(
    "left_out",
    "One row per fitted port that was not handed over, with the reason.",
    (
        _METER,
        _ROLE,
        _ENDPOINT,
        _PORT,
        Field("fitted_at", "datetime", "when it was fitted, UTC"),
        Field("site", "string", "the utility's own id of the place", False, personal=True),
        Field("account", "string", "billing account", False, personal=True),
        Field("verdict", "string", "what the watch found", False, {"enum": list(FAULTS)}),
        Field("probability", "number", "probability of that verdict", False, {"minimum": 0, "maximum": 1}),
        Field("rules", "string", "codes of the rules that it did not pass, separated by spaces"),
        Field("reason", "string", "why, in words"),
        Field("remedy", "string", "what would let it through"),
    ),
    (),
)  # fmt: skip

HANDED_TABLES: Final = (INSTALLS, READS_OUT, LEFT_OUT)
