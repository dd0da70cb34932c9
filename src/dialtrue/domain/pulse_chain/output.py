"""The pulse output of a meter: what closes, how well, for how long."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from dialtrue.domain.errors import FigureRange
from dialtrue.domain.pulse_chain.corners import Spread, checked, checked_spread
from dialtrue.domain.pulse_chain.wire_ends import SheetLead, check_leads

OUTPUT_KINDS: Final[dict[str, str]] = {
    "dry_contact": "contact: reed or relay, no polarity",
    "changeover": "changeover contact (form C): one of its two contacts is used",
    "open_drain": "open drain transistor, one direction only",
    "open_collector": "open collector transistor, one direction only",
    "push_pull": "active output that drives both levels",
    "s0_class_a": "IEC 62053-31 class A transistor output",
    "s0_class_b": "IEC 62053-31 class B transistor output",
    "current_sensor": "two-wire current sensor, EN 60947-5-6",
    "not_known": "not known",
}
CONTACT_KINDS: Final = ("dry_contact", "changeover", "open_drain", "open_collector", "s0_class_a", "s0_class_b")
POLARISED_KINDS: Final = ("open_drain", "open_collector", "s0_class_a", "s0_class_b", "push_pull", "current_sensor")

REVERSED_DIODE_V: Final = 0.6
"""Voltage across a transistor output whose two wires are swapped. [V]
Source: ``CP-SEMICONDUCTOR`` (memory): a silicon body diode or reverse junction conducts at about 0.6 V."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """Data sheet of a pulse output. None = not known; the rules that need the figure then say so.

    Parameters
    ----------
    closed_ohm : Spread
        Resistance while closed: new contact, usual, worn contact; for a current sensor the actuated state. [ohm, > 0]
    open_ohm : Spread
        Resistance while open; infinite for a contact; for a current sensor the idle state. [ohm, > 0]
    saturation_v : float
        Part of the closed level that does not depend on the current; low level of an active output. [V, 0 .. 48]
    high_v : Spread
        High level of an active output. [V]
    off_leak_ua : float
        Current the open output still sinks. [uA, >= 0]
    closed_share : Spread
        Closed share of one pulse period, where it turns with the meter. [0 .. 1]
    closed_ms : Spread
        Closed time, where the output makes pulses of fixed width. [ms, > 0]
    bounce_ms, open_bounce_ms : float
        Longest bounce after closing and after opening. [ms, >= 0]
    min_ma, max_ma, max_v : float
        Current and voltage between which the output is rated. [mA, V]
    max_line_ohm, min_insulation_ohm : float
        Limits that the standard sets for the line. [ohm]
    class_label : str
        A class letter of EN 1434-2 or ISO 22158 as printed: a label only, its limits are the figures above.
    leads : tuple of SheetLead
        The leads with their roles and colours; none at all: the sheet is silent, they are found by test.
    usual : frozenset of str
        Names of keys that rest on common practice or memory.
    doubtful : frozenset of str
        Names of figures that rest on memory: a rule on such a figure alone never refuses a chain.

    Raises
    ------
    FigureRange
        A figure is not finite or out of range, or the kind is not in ``OUTPUT_KINDS``.

    Source
    ------
    Each sheet names its own; see ``docs/reference/sources.md``.
    """

    key: str
    kind: str
    title: str = ""
    standard: str = ""
    class_label: str = ""
    closed_ohm: Spread | None = None
    open_ohm: Spread | None = None
    saturation_v: float = 0.0
    high_v: Spread | None = None
    off_leak_ua: float | None = None
    closed_share: Spread | None = None
    closed_ms: Spread | None = None
    bounce_ms: float | None = None
    open_bounce_ms: float = 0.0
    min_ma: float | None = None
    max_ma: float | None = None
    max_v: float | None = None
    max_line_ohm: float | None = None
    min_insulation_ohm: float | None = None
    leads: tuple[SheetLead, ...] = ()
    usual: frozenset[str] = frozenset()
    doubtful: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        thing = f"Output {self.key}"
        if self.kind not in OUTPUT_KINDS:
            raise FigureRange(thing=thing, name="kind", value=self.kind, expected="one of " + ", ".join(OUTPUT_KINDS))
        for name, low, high in (
            ("closed_ohm", 0.0, 1e9),
            ("open_ohm", 0.0, 1e15),
            ("high_v", 0.0, 60.0),
            ("closed_share", 0.0, 0.999),
            ("closed_ms", 0.0, 1e7),
        ):
            checked_spread(getattr(self, name), thing=thing, name=name, least=low, most=high, above=True)
        for name, high in (
            ("saturation_v", 48.0),
            ("off_leak_ua", 1e6),
            ("bounce_ms", 1e5),
            ("open_bounce_ms", 1e5),
            ("min_ma", 1e4),
            ("max_ma", 1e5),
            ("max_v", 1e4),
            ("max_line_ohm", 1e9),
            ("min_insulation_ohm", 1e15),
        ):
            checked(getattr(self, name), thing=thing, name=name, least=0.0, most=high, infinite=True)
        if self.closed_share is not None and self.closed_ms is not None:
            both = "closed_share and closed_ms"
            raise FigureRange(
                thing=thing, name=both, value="both given", expected="one of the two: share or fixed time"
            )

        check_leads(self.leads, self.kind, thing=thing)

    @property
    def polarised(self) -> bool:
        """True where the two wires may not be swapped."""
        return self.kind in POLARISED_KINDS

    @property
    def fixed_width(self) -> bool:
        """True where the closed time does not depend on flow."""
        return self.closed_ms is not None


NOT_KNOWN_OUTPUT: Final = Output(key="", kind="not_known", title="not known")
