"""The chain of multipliers from a pulse to the billing unit, and the names of the ratios a wrong setting gives."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from dialtrue.domain.dial import Dial
from dialtrue.domain.errors import BadPulseWeight
from dialtrue.domain.figures import figure, power_of_ten
from dialtrue.domain.index import Index
from dialtrue.domain.quantity import convert, litres_per

UNIT_WORDS: Final[dict[str, str]] = {
    "L": "litres", "m3": "cubic metres", "gal": "US gallons", "gal_imp": "imperial gallons", "ft3": "cubic feet",
    "ccf": "hundreds of cubic feet", "kgal": "thousands of US gallons", "acre_ft": "acre-feet",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class NamedRatio:
    """A ratio, index change over dial change, that a setting or an edge gives exactly.

    ``code`` is the fault code, ``factors`` how many slips it takes (1 or 2), ``also`` other slips of the same ratio.
    """

    code: str
    ratio: Fraction
    words: str
    factors: int = 1
    also: tuple[str, ...] = ()


# How unlikely a unit is to take part in a slip, and what a second slip costs: lower is named first.
# Our assumption, for the order of words only; every naming of a ratio is kept in `also`.
_UNIT_COST: Final = {"gal": 0, "ft3": 0, "L": 0, "m3": 1, "gal_imp": 1, "ccf": 2, "kgal": 2, "acre_ft": 3}
_SECOND_SLIP_COST: Final = 3
_DECADES: Final = (-3, -2, -1, 1, 2, 3)
_LEAST, _MOST = Fraction(1, 10**6), Fraction(10**6)
_DECADE_WORDS: Final = {
    -3: "a thousandth of the volume counted", -2: "a hundredth of the volume counted",
    -1: "a tenth of the volume counted, as if one pulse in ten", 1: "ten times the volume counted",
    2: "a hundred times the volume counted", 3: "a thousand times the volume counted",
}  # fmt: skip
_SECOND_DECADE_WORDS: Final = {
    -3: "and three decades too little", -2: "and two decades too little", -1: "and a decade too little",
    1: "and a decade too much", 2: "and two decades too much", 3: "and three decades too much",
}  # fmt: skip
_TWO: Final = "each pulse counted twice (both edges, bounce), or the weight set double"
_HALF: Final = "every second pulse counted (a divider by two), or the weight set half"


def _slips() -> list[tuple[int, NamedRatio]]:
    """List every slip with its cost: decades, unit pairs, two and a half, and each of these with one decade."""
    found = [(0, NamedRatio("weight_decade", Fraction(10) ** k, _DECADE_WORDS[k])) for k in _DECADES]
    single = [
        (0, NamedRatio("double_count", Fraction(2), _TWO)),
        (1, NamedRatio("not_listed", Fraction(1, 2), _HALF)),
    ]
    for meant in UNIT_WORDS:
        for counted_as in UNIT_WORDS:
            ratio = litres_per(counted_as) / litres_per(meant)
            if power_of_ten(ratio) is None:
                words = f"{UNIT_WORDS[meant]} counted as {UNIT_WORDS[counted_as]}"
                single.append((_UNIT_COST[meant] + _UNIT_COST[counted_as], NamedRatio("unit_slip", ratio, words)))
    found += single
    for cost, slip in single:
        # Only the plain units take a decade along: the larger ones are decades of these, and an acre-foot with a
        # decade would imitate half the small ratios. A unit and a decade together go by the unit's name (file
        # contract); two or a half with a decade go by the decade, which carries most of the volume.
        if (slip.code == "unit_slip" and cost > 1) or "cubic metres" in slip.words:
            continue
        code = "unit_slip" if slip.code == "unit_slip" else "weight_decade"
        for k in _DECADES:
            words = f"{slip.words}, {_SECOND_DECADE_WORDS[k]}"
            found.append((cost + _SECOND_SLIP_COST, NamedRatio(code, slip.ratio * Fraction(10) ** k, words, 2)))
    return found


def _named_ratios() -> tuple[NamedRatio, ...]:
    """Keep one entry for each ratio, under its likeliest name, the others in ``also``; smallest ratio first."""
    by_ratio: dict[Fraction, list[NamedRatio]] = {}
    for _, slip in sorted(_slips(), key=lambda pair: (pair[0], pair[1].factors)):
        if _LEAST <= slip.ratio <= _MOST:
            by_ratio.setdefault(slip.ratio, []).append(slip)
    named = []
    for ratio, slips in sorted(by_ratio.items()):
        first = slips[0]
        also = tuple(slip.words for slip in slips[1:])
        named.append(NamedRatio(first.code, ratio, first.words, first.factors, also))
    return tuple(named)


NAMED_RATIOS: Final[tuple[NamedRatio, ...]] = _named_ratios()
"""Every ratio with a name, ascending. Source: exact unit definitions (``NIST-SP-811``); slips are common practice."""


def name_ratio(ratio: Fraction | float, *, tolerance: Fraction | float) -> list[NamedRatio]:
    """Name a ratio of index change to dial change.

    Parameters
    ----------
    ratio : Fraction or float
        Index change over dial change. [-]
    tolerance : Fraction or float
        Greatest relative distance from a named ratio; the uncertainty of ``ratio``. [-, >= 0]

    Returns
    -------
    list of NamedRatio
        Every named ratio within the tolerance: single slips before pairs of slips, nearest first. Empty where there is
        none; 1 has no name here, for it is no slip. A ratio that is not finite has no name.

    Raises
    ------
    Never raises.

    Source
    ------
    Products of one unit ratio (or two, or a half) and one decade, exact (``NIST-SP-811``).

    Examples
    --------
    >>> [(named.code, named.words) for named in name_ratio(7.48, tolerance=0.001)]
    [('unit_slip', 'US gallons counted as cubic feet')]
    """
    if isinstance(ratio, float) and not math.isfinite(ratio):
        return []
    exact, allowed = Fraction(ratio), Fraction(tolerance)
    near = [(abs(exact / named.ratio - 1), named) for named in NAMED_RATIOS]
    within = sorted((named.factors, distance, named.ratio) for distance, named in near if distance <= allowed)
    by_ratio = {named.ratio: named for _, named in near}
    return [by_ratio[value] for _, _, value in within]


@dataclass(frozen=True, slots=True)
class Step:
    """One factor of the chain: ``factor`` is what one ``per`` becomes, in ``to``."""

    name: str
    factor: Fraction
    per: str
    to: str
    words: str


@dataclass(frozen=True, slots=True)
class Chain:
    """The chain from a pulse to the billing unit.

    The product of the steps' factors is ``billed_per_pulse``; ``true_per_pulse`` is what the survey says has passed
    [billing units]; ``ratio`` is the first over the second, exact. ``named`` says what a ratio other than 1 looks like.
    """

    steps: tuple[Step, ...]
    billing_unit: str
    billed_per_pulse: Fraction
    true_per_pulse: Fraction
    ratio: Fraction
    named: tuple[NamedRatio, ...]
    notes: tuple[str, ...]
    sentence: str

    @property
    def lines(self) -> tuple[str, ...]:
        """The chain written out, one factor a line, then what it comes to."""
        return (*(f"{step.name}: {step.words}" for step in self.steps), self.sentence, *self.notes)


def multiplier_chain(
    *,
    pulse_weight: Fraction | int,
    pulse_unit: str,
    weight_set: Fraction | int,
    weight_unit: str,
    index: Index,
    dial: Dial,
    billing_unit: str,
) -> Chain:
    """Write out the chain of multipliers of one port and name what is off.

    Parameters
    ----------
    pulse_weight, pulse_unit : Fraction, str
        Volume per pulse by the survey. [pulse_unit per pulse, > 0]
    weight_set, weight_unit : Fraction, str
        Volume per pulse that the endpoint was told. [weight_unit per pulse, > 0]
    index : Index
        The port's index.
    dial : Dial
        The meter's dial.
    billing_unit : str
        Contract unit of the bill.

    Returns
    -------
    Chain
        Steps output, setting, count, index, bill; ratio; names; notes on digits and resolution.

    Raises
    ------
    BadPulseWeight
        A weight is zero or less.
    UnknownUnit
        A unit is not a contract unit.

    Source
    ------
    Definition; exact units (``NIST-SP-811``).

    Examples
    --------
    >>> chain = multiplier_chain(
    ...     pulse_weight=10, pulse_unit="gal", weight_set=1, weight_unit="gal", billing_unit="kgal",
    ...     index=Index.of(digits=8, unit="gal"), dial=Dial.of(moving_digits=6, fixed_zeros=1, unit="gal"))
    >>> chain.ratio, chain.named[0].code
    (Fraction(1, 10), 'weight_decade')
    """
    for what, weight, unit in (
        ("pulse weight", pulse_weight, pulse_unit),
        ("weight set", weight_set, weight_unit),
    ):
        if weight <= 0:
            raise BadPulseWeight(what=what, value=figure(Fraction(weight)), unit=unit)
    told, true = Fraction(weight_set), Fraction(pulse_weight)
    counts = convert(told, weight_unit, index.unit) / index.resolution
    to_bill = litres_per(index.unit) / litres_per(billing_unit)
    per_unit = counts / told
    steps = (
        Step("setting", told, "pulse", weight_unit, f"1 pulse adds {_said(told)} {weight_unit}, as set"),
        Step("count", per_unit, weight_unit, "count", f"1 {weight_unit} moves the index by {_said(per_unit)}"),
        Step("index", index.resolution, "count", index.unit, f"1 count is {_said(index.resolution)} {index.unit}"),
        Step("bill", to_bill, index.unit, billing_unit, f"1 {index.unit} is {_said(to_bill)} {billing_unit} billed"),
    )
    billed = convert(told, weight_unit, billing_unit)
    passed = convert(true, pulse_unit, billing_unit)
    ratio = billed / passed
    named = tuple(name_ratio(ratio, tolerance=0)) if ratio != 1 else ()
    said_true, said_told = f"{_said(true)} {pulse_unit}", f"{_said(told)} {weight_unit}"
    if ratio == 1:
        sentence = f"Each pulse is {said_true} of water and is counted as {said_told}: true."
    else:
        looks = named[0].words if named else "no power of ten and no unit ratio"
        sentence = (
            f"Each pulse is {said_true} of water by the survey and is counted as {said_told}: "
            f"ratio {_said(ratio)}, {looks}."
        )
    return Chain(steps, billing_unit, billed, passed, ratio, named, _notes(true, pulse_unit, index, dial), sentence)


def _said(value: Fraction) -> str:
    """Write a factor with up to nine places."""
    return figure(value, places=9)


def _notes(pulse_weight: Fraction, pulse_unit: str, index: Index, dial: Dial) -> tuple[str, ...]:
    """Say what the index cannot show of the dial, and what a pulse cannot move."""
    notes = []
    weight_l = pulse_weight * litres_per(pulse_unit)
    if index.capacity_l < dial.capacity_l:
        turns = figure(dial.capacity_l / index.capacity_l, places=1)
        notes.append(f"The index comes round {turns} times while the dial comes round once.")
    if index.resolution_l > weight_l:
        pulses = figure(index.resolution_l / weight_l, places=1)
        notes.append(f"It takes {pulses} pulses to move the index by one count.")
    if weight_l < dial.resolution_l:
        notes.append(f"One step of the dial is {figure(dial.resolution_l / weight_l, places=1)} pulses.")
    if dial.unit != index.unit and power_of_ten(litres_per(dial.unit) / litres_per(index.unit)) is None:
        notes.append(f"The dial shows {UNIT_WORDS[dial.unit]}, the index {UNIT_WORDS[index.unit]}: digits differ.")
    return tuple(notes)
