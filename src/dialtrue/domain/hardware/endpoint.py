"""An endpoint: its ports, what can be keyed into it, where it sits, what it takes to mount it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from dialtrue.domain.contracts import MOUNTS
from dialtrue.domain.errors import FigureRange
from dialtrue.domain.quantity import UNITS, litres_per

ENDPOINT_LOOPS: Final = ("none", "per_endpoint", "per_port")
ENDPOINT_POWERS: Final = ("cell", "mains")
MOST_PORTS: Final = 99
MOST_DIGITS: Final = 18


@dataclass(frozen=True, slots=True)
class Weight:
    """A volume per pulse that can be keyed: the number as the endpoint shows it, and its unit."""

    number: str
    unit: str
    volume_l: Fraction

    @classmethod
    def of(cls, number: str, unit: str, value: Fraction) -> Weight:
        """Build a weight; ``value`` is what ``number`` stands for. [unit, > 0]"""
        return cls(number, unit, value * litres_per(unit))


@dataclass(frozen=True, slots=True, kw_only=True)
class Endpoint:
    """Data sheet of an endpoint.

    Parameters
    ----------
    key, title, title_metric : str
        Name in plans, and what it is in general words with US and with metric sizes.
    ports : int
        Pulse inputs. [1 .. 99]
    input : str
        Input sheet of every port.
    index_digits : tuple of int
        How many digits of the index can be chosen. [1 .. 18]
    index_units : tuple of str
        Contract units that the index can have.
    index_resolutions : tuple of Fraction
        Values of the least digit that can be chosen. [index units, > 0]
    weights : tuple of Weight
        Pulse weights that can be keyed; empty: any.
    power : str
        ``cell``, or ``mains`` (solar too): only planned where you name it, or where no other counts the output.
    live_count : bool
        True where the count shows at once.
    tamper_loop : str
        ``none``, ``per_endpoint`` (one loop for the endpoint) or ``per_port``.
    mounts : tuple of str
        Where it can sit.
    parts_per_endpoint, parts_per_port, parts_per_wired_loop, parts_per_bridged_loop : mapping of str to Fraction
        Part keys with quantities.
    parts_per_mount : mapping of str to mapping
        Part keys with quantities for one endpoint at that mount.
    tools, tools_per_mount : tuple of str, mapping of str to tuple
        Tools that a visit needs, always and at that mount.
    cold_limit_c : float or None
        Coldest place it is made for. [C]
    job_minutes : mapping of str to float
        Work at a mount for an endpoint with one port, without the proof. [min, 0 .. 1440]
    port_minutes : float
        More work for each further port. [min, 0 .. 1440]
    spare_share, spare_minimum : Fraction, int
        Spares of a kit, as with parts. [0 .. 10; >= 0]
    source : str
        Where the figures come from.

    Raises
    ------
    FigureRange
        A figure is out of range, or a word is not in its list.

    Source
    ------
    Each sheet names its own. The shipped minutes are our assumption; override by a sheet of the same key or by the
    settings ``[plan.job_minutes]``.
    """

    key: str
    title: str = ""
    title_metric: str = ""
    ports: int = 1
    input: str = ""
    index_digits: tuple[int, ...] = (8,)
    index_units: tuple[str, ...] = UNITS
    index_resolutions: tuple[Fraction, ...] = (Fraction(1),)
    weights: tuple[Weight, ...] = ()
    power: str = "cell"
    live_count: bool = False
    tamper_loop: str = "none"
    mounts: tuple[str, ...] = MOUNTS
    parts_per_endpoint: Mapping[str, Fraction] = field(default_factory=dict)
    parts_per_port: Mapping[str, Fraction] = field(default_factory=dict)
    parts_per_wired_loop: Mapping[str, Fraction] = field(default_factory=dict)
    parts_per_bridged_loop: Mapping[str, Fraction] = field(default_factory=dict)
    parts_per_mount: Mapping[str, Mapping[str, Fraction]] = field(default_factory=dict)
    tools: tuple[str, ...] = ()
    tools_per_mount: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    cold_limit_c: float | None = None
    job_minutes: Mapping[str, float] = field(default_factory=dict)
    port_minutes: float = 0.0
    spare_share: Fraction = Fraction(0)
    spare_minimum: int = 0
    source: str = ""

    def __post_init__(self) -> None:
        thing = f"Endpoint {self.key}"

        def refuse(name: str, value: object, expected: str) -> None:
            raise FigureRange(thing=thing, name=name, value=value, expected=expected)

        if not 1 <= self.ports <= MOST_PORTS:
            refuse("ports", self.ports, f"from 1 to {MOST_PORTS}")
        for name in ("index_digits", "index_units", "index_resolutions", "mounts"):
            if not getattr(self, name):
                refuse(name, "empty", "a list of at least one")
        for digits in self.index_digits:
            if not 1 <= digits <= MOST_DIGITS:
                refuse("index_digits", digits, f"from 1 to {MOST_DIGITS}")
        for resolution in self.index_resolutions:
            if not 0 < resolution <= 10**9:
                refuse("index_resolutions", float(resolution), "above 0 and at most 1e9")
        for name, words, allowed in (
            ("index_units", self.index_units, UNITS),
            ("mounts", self.mounts, MOUNTS),
            ("parts_per_mount", tuple(self.parts_per_mount), MOUNTS),
            ("tools_per_mount", tuple(self.tools_per_mount), MOUNTS),
            ("job_minutes", tuple(self.job_minutes), MOUNTS),
            ("tamper_loop", (self.tamper_loop,), ENDPOINT_LOOPS),
            ("power", (self.power,), ENDPOINT_POWERS),
        ):
            for word in words:
                if word not in allowed:
                    refuse(name, word, "one of " + ", ".join(allowed))
        for minutes in (self.port_minutes, *self.job_minutes.values()):
            if not 0 <= minutes <= 1440:
                refuse("job_minutes", minutes, "from 0 to 1440 minutes")
        if self.cold_limit_c is not None and not -90 <= self.cold_limit_c <= 60:
            refuse("cold_limit_c", self.cold_limit_c, "from -90 to 60")
        if not 0 <= self.spare_share <= 10 or self.spare_minimum < 0:
            refuse("spare_share", float(self.spare_share), "from 0 to 10")

    def weight(self, volume_l: Fraction, unit: str = "") -> Weight | None:
        """Return the weight to key for a volume per pulse, in ``unit`` if it is offered so, or None.

        Parameters
        ----------
        volume_l : Fraction
            Volume per pulse of the output. [L, > 0]
        unit : str
            The survey's unit: goes first where several offered weights are the same volume.

        Returns
        -------
        Weight or None
            None where the endpoint offers no weight of exactly that volume. An endpoint without a list takes any: the
            caller then keys the survey's own text.

        Raises
        ------
        Never raises.

        Source
        ------
        Definition: equal volumes, exactly.
        """
        same = [weight for weight in self.weights if weight.volume_l == volume_l]
        return next((weight for weight in same if weight.unit == unit), same[0] if same else None)
