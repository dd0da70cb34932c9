"""The pulse input of an endpoint: pull-up, thresholds, filter, sampling, cell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from dialtrue.domain.errors import ContradictoryThresholds, FigureRange
from dialtrue.domain.pulse_chain.corners import Spread, checked, checked_spread
from dialtrue.domain.pulse_chain.wire_ends import SheetTerminal, check_terminals

INPUT_KINDS: Final[dict[str, str]] = {
    "pull_up": "contact input with its own pull-up",
    "voltage": "logic input without pull-up: the output must drive both levels",
    "current": "two-wire current input, EN 60947-5-6",
    "not_known": "not known",
}
SCHEMES: Final = ("continuous", "sampled")
EDGES: Final = ("one", "both")
LOOPS: Final = ("none", "two_wire", "shared")


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """Data sheet of an endpoint input. None = not known.

    Parameters
    ----------
    supply_v : Spread
        Voltage behind the pull-up: exhausted cell and cold, usual, fresh. [V, > 0]
    pull_up_ohm : Spread
        Pull-up, or source resistance of a current input. [ohm, > 0]
    closed_below, open_above : float
        Guaranteed thresholds; unit by ``threshold_unit``: ``V``, ``share`` of the supply, or ``mA`` (then closed means
        a current above ``closed_below`` and open one under ``open_above``).
    threshold_spread_v : float
        Both thresholds may lie this much lower or higher. [V, >= 0]
    hysteresis_v : float
        Between the switching levels for rising and falling. [V, >= 0]
    capacitance_pf : float
        At the terminals. [pF, >= 0]
    leakage_ua : float
        Into or out of the input pin. [uA, >= 0]
    sample_period_ms, sample_jitter_ms, samples_to_confirm : float, float, int
        A sampled input looks once a period; two looks may lie up to period + jitter apart; so many equal looks in a row
        make a state. [ms, ms, 1 .. 100]
    pull_up_on_ms : float
        The pull-up is energised only for so long before each look; None: always on. [ms, > 0]
    debounce_ms, open_debounce_ms : float
        A state counts when it has been steady so long; ``open_debounce_ms`` None: the same. [ms, >= 0]
    min_on_ms, min_off_ms : float
        Least closed and open time on the sheet, None: the debounce is all. [ms, >= 0]
    max_rate_hz : float
        Greatest pulse rate; infinite where the sheet names no limit of its own. [Hz, > 0]
    edges : str
        ``one``, or ``both`` where closing and opening each add a count.
    max_v : float
        Highest voltage the terminals stand. [V]
    tamper_loop : str
        ``none``, ``two_wire`` (own pair in the cable) or ``shared``.
    debounce_choices_ms, pull_up_choices_ohm : tuple of float
        What a fitter can set.
    capacity_mah, base_ua, self_discharge_share, sends_per_day, send_mah : float
        Usable cell capacity, current with the line open, yearly self-discharge as a share of rated capacity, radio
        sends a day, charge of one send.
    terminals : tuple of SheetTerminal
        The terminals of a port by function; none at all: pulse + and -, and those of the tamper loop.
    usual : frozenset of str
        Names of keys that rest on common practice or memory.

    Raises
    ------
    ContradictoryThresholds
        One level would be closed and open at once.
    FigureRange
        A figure is not finite or out of range, or a word is not in its list.

    Source
    ------
    Each sheet names its own; see ``docs/reference/sources.md``.
    """

    key: str
    kind: str
    title: str = ""
    standard: str = ""
    class_label: str = ""
    supply_v: Spread | None = None
    pull_up_ohm: Spread | None = None
    closed_below: float | None = None
    open_above: float | None = None
    threshold_unit: str = "V"
    threshold_spread_v: float = 0.0
    hysteresis_v: float | None = None
    capacitance_pf: float | None = None
    leakage_ua: float = 0.0
    scheme: str = "continuous"
    sample_period_ms: float | None = None
    sample_jitter_ms: float = 0.0
    samples_to_confirm: int = 1
    pull_up_on_ms: float | None = None
    debounce_ms: float | None = None
    open_debounce_ms: float | None = None
    min_on_ms: float | None = None
    min_off_ms: float | None = None
    max_rate_hz: float | None = None
    edges: str = "one"
    max_v: float | None = None
    tamper_loop: str = "none"
    debounce_choices_ms: tuple[float, ...] = ()
    pull_up_choices_ohm: tuple[float, ...] = ()
    capacity_mah: float | None = None
    base_ua: float | None = None
    self_discharge_share: float | None = None
    sends_per_day: float = 0.0
    send_mah: float = 0.0
    terminals: tuple[SheetTerminal, ...] = ()
    usual: frozenset[str] = frozenset()
    doubtful: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        thing = f"Input {self.key}"
        self._check_words(thing)
        for name, low, high in (("supply_v", 0.0, 60.0), ("pull_up_ohm", 0.0, 1e12)):
            checked_spread(getattr(self, name), thing=thing, name=name, least=low, most=high, above=True)
        for name, high in (
            ("closed_below", 60.0),
            ("open_above", 60.0),
            ("threshold_spread_v", 10.0),
            ("hysteresis_v", 60.0),
            ("capacitance_pf", 1e9),
            ("leakage_ua", 1e6),
            ("sample_jitter_ms", 1e7),
            ("debounce_ms", 1e7),
            ("open_debounce_ms", 1e7),
            ("min_on_ms", 1e7),
            ("min_off_ms", 1e7),
            ("max_v", 1e4),
            ("capacity_mah", 1e7),
            ("base_ua", 1e7),
            ("self_discharge_share", 1.0),
            ("sends_per_day", 1e6),
            ("send_mah", 1e4),
        ):
            checked(getattr(self, name), thing=thing, name=name, least=0.0, most=high)
        for name in ("sample_period_ms", "pull_up_on_ms", "max_rate_hz"):
            rate = name == "max_rate_hz"
            checked(getattr(self, name), thing=thing, name=name, least=0.0, most=1e9, above=True, infinite=rate)
        for choice in (*self.debounce_choices_ms, *self.pull_up_choices_ohm):
            checked(choice, thing=thing, name="choices", least=0.0, most=1e12)
        self._check_thresholds()
        check_terminals(self.terminals, self.tamper_loop, thing=thing)

    def _check_words(self, thing: str) -> None:
        """Refuse a word that is not in its list."""
        for name, allowed in (
            ("kind", tuple(INPUT_KINDS)),
            ("scheme", SCHEMES),
            ("edges", EDGES),
            ("tamper_loop", LOOPS),
            ("threshold_unit", ("V", "share", "mA")),
        ):
            word = getattr(self, name)
            if word not in allowed:
                raise FigureRange(thing=thing, name=name, value=word, expected="one of " + ", ".join(allowed))
        if not 1 <= self.samples_to_confirm <= 100:
            count = self.samples_to_confirm
            raise FigureRange(thing=thing, name="samples_to_confirm", value=count, expected="1 to 100")

    def _check_thresholds(self) -> None:
        """Refuse levels that overlap; a current input has them the other way round."""
        closed, opened = self.closed_below, self.open_above
        if closed is None or opened is None:
            return
        overlap = closed <= opened if self.threshold_unit == "mA" else closed >= opened
        if overlap:
            raise ContradictoryThresholds(
                input=self.key, closed_below=closed, open_above=opened, unit=self.threshold_unit
            )

    @property
    def sampled(self) -> bool:
        """True where the input looks only at times."""
        return self.scheme == "sampled"


NOT_KNOWN_INPUT: Final = Input(key="", kind="not_known", title="not known")
