"""One pulse chain: an output, a cable and an input, the water that turns it, and the settings it is judged by."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from dialtrue.domain.errors import FigureRange, LengthRange
from dialtrue.domain.pulse_chain.cable import NOT_KNOWN_CABLE, Cable
from dialtrue.domain.pulse_chain.corners import checked
from dialtrue.domain.pulse_chain.input import NOT_KNOWN_INPUT, Input
from dialtrue.domain.pulse_chain.output import NOT_KNOWN_OUTPUT, Output

WIRINGS: Final = ("one_pair", "both_contacts")


@dataclass(frozen=True, slots=True, kw_only=True)
class FitSettings:
    """What the verdict is judged by. Every default is our assumption and can be overridden.

    Parameters
    ----------
    care_share : float
        A margin under this share of its limit is thin: fits with care. [0 .. 1] Our assumption: 10 %, what the spread
        of one pull-up resistor alone can take away.
    damp_ohm : float
        Leakage across the pair that a chain should stand. [ohm] Source: ``IEC-60364-6`` and ``EN-60947-5-6`` both ask
        for 1 Mohm of insulation.
    life_years : float
        Wished life of the cell with the contact parked closed. [years] Our assumption.
    noise_v : float
        Hysteresis from which a slow edge is one edge. [V] Our assumption: hum and ripple on a house cable.
    proof_factor : float
        A hose cannot prove the chain where the steady closed time at maximum flow is under so many filter times. [-]
        Our assumption.
    cold_c, hot_c : float
        Cable temperature. [C] Our assumption: a wall in winter, a pit lid in summer.
    rollover_h : float
        Least hours at Q3 until the index turns over. [h] Source: ``OIML-R49``.
    """

    care_share: float = 0.10
    damp_ohm: float = 1.0e6
    life_years: float = 10.0
    noise_v: float = 0.05
    proof_factor: float = 3.0
    cold_c: float = -20.0
    hot_c: float = 60.0
    rollover_h: float = 1600.0

    def __post_init__(self) -> None:
        for name, low, high in (
            ("care_share", 0.0, 1.0),
            ("damp_ohm", 0.0, 1e15),
            ("life_years", 0.0, 1000.0),
            ("noise_v", 0.0, 10.0),
            ("proof_factor", 0.0, 1000.0),
            ("cold_c", -90.0, 120.0),
            ("hot_c", -90.0, 120.0),
            ("rollover_h", 0.0, 1e9),
        ):
            checked(getattr(self, name), thing="Settings", name=name, least=low, most=high)
        if self.cold_c > self.hot_c:
            raise FigureRange(thing="Settings", name="cold_c", value=self.cold_c, expected="not above hot_c")


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """A chain to be judged. None = not known.

    Parameters
    ----------
    output, input, cable : Output, Input, Cable
        Data sheets.
    length_m : float
        One-way cable run. [m, 0 .. 10000]
    weight_l : float
        Volume per pulse. [L, > 0]
    max_flow_lpm, min_flow_lpm, q3_lpm : float
        Greatest flow the meter passes (Q4 or the safe maximum), least flow it is tested at, permanent flow. [L/min]
    leakage_ohm : float
        Leakage across the pair that is expected on this site; it then decides the open level. [ohm, > 0]
    wiring : str
        ``one_pair``, or ``both_contacts`` where both contacts of a changeover output are wired to counting inputs.
    use_l_per_day : float
        Expected use. [L/day, >= 0]
    resolution_l, billing_l, index_capacity_l : float
        Value of the least digit read, of the billing unit, and of a full turn of the index. [L, > 0]

    Raises
    ------
    LengthRange
        Negative, not finite, or longer than 10 km.
    FigureRange
        Any other figure that nothing can be computed from.

    Source
    ------
    Definition.
    """

    output: Output = NOT_KNOWN_OUTPUT
    input: Input = NOT_KNOWN_INPUT
    cable: Cable = NOT_KNOWN_CABLE
    length_m: float | None = None
    weight_l: float | None = None
    max_flow_lpm: float | None = None
    min_flow_lpm: float | None = None
    q3_lpm: float | None = None
    leakage_ohm: float | None = None
    wiring: str = "one_pair"
    use_l_per_day: float | None = None
    resolution_l: float | None = None
    billing_l: float | None = None
    index_capacity_l: float | None = None
    settings: FitSettings = field(default_factory=FitSettings)

    def __post_init__(self) -> None:
        if self.length_m is not None and not 0.0 <= self.length_m <= 10_000.0:
            raise LengthRange(length_m=self.length_m)
        for name, high in (
            ("weight_l", 1e9),
            ("max_flow_lpm", 1e9),
            ("min_flow_lpm", 1e9),
            ("q3_lpm", 1e9),
            ("leakage_ohm", 1e15),
            ("resolution_l", 1e15),
            ("billing_l", 1e15),
            ("index_capacity_l", 1e30),
        ):
            checked(getattr(self, name), thing="Chain", name=name, least=0.0, most=high, above=True)
        checked(self.use_l_per_day, thing="Chain", name="use_l_per_day", least=0.0, most=1e12)
        if self.wiring not in WIRINGS:
            raise FigureRange(thing="Chain", name="wiring", value=self.wiring, expected="one of " + ", ".join(WIRINGS))
