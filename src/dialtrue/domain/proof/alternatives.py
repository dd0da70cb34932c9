"""What else it could be: the ratios of index to dial that a wrong setting or a wrong edge gives."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Final

from dialtrue.domain.figures import power_of_ten
from dialtrue.domain.multipliers import UNIT_WORDS
from dialtrue.domain.quantity import litres_per

UNITS_OFFERED: Final = ("L", "m3", "gal", "ft3")
"""Units that an endpoint can be set to, where its sheet does not say. Our assumption; override by the sheet."""

_DECADES: Final = (-3, -2, -1, 1, 2, 3)


@dataclass(frozen=True, slots=True)
class Alternative:
    """A wrong state of things: ``ratio`` is index over dial, 0 where nothing is counted."""

    code: str
    ratio: Fraction
    words: str


@lru_cache(maxsize=64)
def alternatives(units: tuple[str, ...] = UNITS_OFFERED) -> tuple[Alternative, ...]:
    """Return every wrong state that a draw must rule out, the nearest to sound first.

    Parameters
    ----------
    units : tuple of str
        Units that the endpoint can be set to.

    Returns
    -------
    tuple of Alternative
        Nothing counted; decades; two and a half; every pair of units, alone and with one decade. One entry a ratio.

    Raises
    ------
    UnknownUnit
        A name is not a contract unit.

    Source
    ------
    ``COUNT-MODEL``; exact units ``NIST-SP-811``. Which slips are of consequence: common practice, no source.

    Examples
    --------
    >>> [str(round(float(each.ratio), 3)) for each in alternatives(("gal", "ft3"))[:2]]
    ['0.748', '1.337']
    """
    found: dict[Fraction, Alternative] = {}

    def add(code: str, ratio: Fraction, words: str) -> None:
        found.setdefault(ratio, Alternative(code, ratio, words))

    add("dead_input", Fraction(0), "nothing is counted")
    for power in _DECADES:
        add("weight_decade", Fraction(10) ** power, f"the weight is {_times(power)} the right one")
    add("double_count", Fraction(2), "each pulse is counted twice, or the weight is double")
    add("not_listed", Fraction(1, 2), "every second pulse is counted, or the weight is half")
    for meant in units:
        for told in units:
            ratio = litres_per(told) / litres_per(meant)
            if power_of_ten(ratio) is not None:
                continue
            words = f"{UNIT_WORDS[meant]} taken for {UNIT_WORDS[told]}"
            add("unit_slip", ratio, words)
            for power in _DECADES:
                add("unit_slip", ratio * Fraction(10) ** power, f"{words}, and {_times(power)} as much")
    return tuple(sorted(found.values(), key=_distance))


def _times(power: int) -> str:
    """Return a decade in words."""
    words = {1: "ten", 2: "a hundred", 3: "a thousand"}[abs(power)]
    return f"{words} times" if power > 0 else {1: "a tenth of", 2: "a hundredth of", 3: "a thousandth of"}[-power]


def _distance(each: Alternative) -> Fraction:
    """Return how far a ratio is from 1, up and down alike."""
    if not each.ratio:
        return Fraction(10**9)
    return max(each.ratio, 1 / each.ratio)
