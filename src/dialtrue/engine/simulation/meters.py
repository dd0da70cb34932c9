"""Meters of the invented town: sizes, faces, pulse weights, and the index settings that suit them.

Source
------
Safe maximum flows by size: ``US-FLOW-LIMITS`` and, for metric sizes, Q4 of ``OIML-R49`` (Q4 = 1.25 Q3). Faces and
pulse weights are common practice, no source; every face holds at least 1600 h at Q3 (``OIML-R49``), checked by a test.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

import numpy as np

from dialtrue.domain.pulse_chain.timing import FLOW_LIMITS
from dialtrue.domain.quantity import LITRES_PER_UNIT, exact_decimal

GAL_PER_MIN_L_S = float(LITRES_PER_UNIT["gal"]) / 60
SAFE_MAX_L_S: dict[str, float] = {size: float(limits.max_flow_lpm / 60) for size, limits in FLOW_LIMITS.items()}
"""Greatest flow the size may pass. [L/s]"""

METRIC_SIZE = {
    "5/8in": "DN15", "3/4in": "DN20", "1in": "DN25", "1-1/2in": "DN40", "2in": "DN50", "3in": "DN80", "4in": "DN100",
    "6in": "DN150",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Face:
    """One register face and its pulse output. Decimals are kept as written, so that nothing is rounded."""

    digits: int
    fixed_zeros: int
    unit: str
    resolution: str
    pulse_weight: str
    pulse_unit: str

    @property
    def resolution_l(self) -> Fraction:
        """Value of the least moving digit. [L]"""
        return exact_decimal(self.resolution) * LITRES_PER_UNIT[self.unit]

    @property
    def weight_l(self) -> Fraction:
        """Volume per pulse. [L]"""
        return exact_decimal(self.pulse_weight) * LITRES_PER_UNIT[self.pulse_unit]

    def text(self, moving: int) -> str:
        """Return the face as seen: moving digits with leading zeros, then the painted zeros."""
        return f"{moving:0{self.digits}d}" + "0" * self.fixed_zeros


_SMALL_US = (
    Face(6, 1, "gal", "10", "10", "gal"),
    Face(6, 1, "gal", "10", "1", "gal"),
    Face(7, 0, "gal", "1", "1", "gal"),
    Face(7, 0, "gal", "1", "10", "gal"),
    Face(8, 0, "gal", "0.1", "0.1", "gal"),
    Face(7, 0, "kgal", "0.001", "10", "gal"),
    Face(6, 0, "ft3", "1", "1", "ft3"),
    Face(7, 0, "ft3", "0.1", "0.1", "ft3"),
    Face(7, 0, "ft3", "0.1", "1", "ft3"),
)
_SMALL_METRIC = (
    Face(8, 0, "m3", "0.001", "1", "L"),
    Face(8, 0, "m3", "0.001", "10", "L"),
    Face(7, 0, "m3", "0.01", "10", "L"),
    Face(6, 0, "m3", "0.1", "100", "L"),
    Face(5, 0, "m3", "1", "100", "L"),
)
_LARGE_US = (
    Face(6, 2, "gal", "100", "100", "gal"),
    Face(7, 1, "gal", "10", "10", "gal"),
    Face(7, 1, "gal", "10", "100", "gal"),
    Face(8, 0, "ft3", "1", "10", "ft3"),
    Face(7, 1, "ft3", "10", "10", "ft3"),
    Face(6, 2, "ft3", "100", "100", "ft3"),
    Face(8, 0, "kgal", "0.01", "100", "gal"),
)
_LARGE_METRIC = (
    Face(8, 0, "m3", "0.01", "100", "L"),
    Face(7, 0, "m3", "0.1", "100", "L"),
    Face(7, 0, "m3", "1", "1000", "L"),
    Face(6, 0, "m3", "1", "1000", "L"),
)
_MID_US = (*_LARGE_US[1:5], Face(8, 0, "gal", "1", "1", "gal"), Face(8, 0, "gal", "1", "10", "gal"))
_MID_METRIC = (Face(7, 0, "m3", "0.1", "10", "L"), *_LARGE_METRIC[:2])
_COMPOUND_US = (Face(6, 2, "gal", "100", "100", "gal"), Face(6, 1, "gal", "10", "10", "gal"))
_COMPOUND_METRIC = (Face(7, 0, "m3", "0.1", "100", "L"), Face(8, 0, "m3", "0.001", "10", "L"))

_FAMILY = {
    ("small", "us"): _SMALL_US,
    ("small", "metric"): _SMALL_METRIC,
    ("mid", "us"): _MID_US,
    ("mid", "metric"): _MID_METRIC,
    ("large", "us"): _LARGE_US,
    ("large", "metric"): _LARGE_METRIC,
    ("compound", "us"): _COMPOUND_US,
    ("compound", "metric"): _COMPOUND_METRIC,
}
_CLASS = {
    "5/8in": "small", "3/4in": "small", "1in": "small", "1-1/2in": "mid", "2in": "mid", "3in": "large", "4in": "large",
    "6in": "large",
}  # fmt: skip


def faces_for(size: str, system: str) -> tuple[Face, ...]:
    """Return the faces that suit a size (written in inches) in a unit system (``us`` or ``metric``)."""
    return _FAMILY[(_CLASS[size], system)]


def compound_face(role: str, system: str) -> Face:
    """Return the face of one side of a compound meter."""
    return _FAMILY[("compound", system)][0 if role == "high" else 1]


@dataclass(frozen=True, slots=True)
class Setting:
    """What an endpoint port was told: how its index counts. ``bits`` > 0 says a binary capacity instead of digits."""

    digits: int
    unit: str
    resolution: str
    weight: str
    weight_unit: str
    bits: int = 0

    @property
    def resolution_l(self) -> Fraction:
        """Value of the least digit sent. [L]"""
        return exact_decimal(self.resolution) * LITRES_PER_UNIT[self.unit]

    @property
    def weight_l(self) -> Fraction:
        """Volume that one count adds. [L]"""
        return exact_decimal(self.weight) * LITRES_PER_UNIT[self.weight_unit]

    @property
    def capacity(self) -> int:
        """Count at which the index rolls over. [units of the resolution]"""
        return 1 << self.bits if self.bits else 10**self.digits

    def index_of_dial(self, moving: int, face: Face) -> int:
        """Return the whole index that lines up with a dial reading, before the top digits are cut off."""
        return int(moving * face.resolution_l // self.resolution_l)


def shifted(decimal: str, power: int) -> str:
    """Return a decimal times 10^power as plain text, exactly.

    >>> shifted("0.1", 1), shifted("10", -3)
    ('1', '0.01')
    """
    value = exact_decimal(decimal) * Fraction(10) ** power
    return plain(value)


def times(decimal: str, count: int) -> str:
    """Return a decimal as written, times a whole number, exactly and as plain text.

    >>> times("0.001", 12500), times("10", 7), times("0.1", 0)
    ('12.5', '70', '0')
    """
    text = format(Decimal(decimal) * count, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def plain(value: Fraction) -> str:
    """Return a fraction that is a finite decimal as plain text, without an exponent."""
    whole, rest = divmod(abs(value), 1)
    text = str(int(whole))
    if rest:
        digits = ""
        while rest:
            rest *= 10
            digit, rest = divmod(rest, 1)
            digits += str(int(digit))
        text = f"{text}.{digits}"
    return f"-{text}" if value < 0 else text


_SETTING_KINDS = ("as_dial", "as_pulse", "fewer_digits", "finer", "other_unit", "coarse")
_SETTING_SHARES = (0.64, 0.16, 0.07, 0.05, 0.04, 0.04)
# Our assumption: most programmes key the index to the dial's own digits; override by editing the shares.


def sound_setting(rng: np.random.Generator, face: Face) -> Setting:
    """Return an index setting that suits the face: the dial's digits, or coarser, finer, fewer, or another unit."""
    kind = str(rng.choice(_SETTING_KINDS, p=_SETTING_SHARES))
    alike = Setting(face.digits, face.unit, face.resolution, face.pulse_weight, face.pulse_unit)
    if kind == "as_pulse":
        resolution = exact_decimal(face.pulse_weight) * LITRES_PER_UNIT[face.pulse_unit] / LITRES_PER_UNIT[face.unit]
        capacity = exact_decimal(face.resolution) * 10**face.digits
        digits = len(str(int(capacity / resolution) - 1))
        return Setting(digits, face.unit, plain(resolution), face.pulse_weight, face.pulse_unit)
    if kind == "fewer_digits" and face.digits >= 7:
        return Setting(face.digits - 1, face.unit, face.resolution, face.pulse_weight, face.pulse_unit)
    if kind == "finer":
        return Setting(face.digits + 1, face.unit, shifted(face.resolution, -1), face.pulse_weight, face.pulse_unit)
    if kind == "coarse" and face.digits >= 6:
        # Only whole billing units are sent: a small user's index stands still for days, and loses nothing.
        return Setting(face.digits - 1, face.unit, shifted(face.resolution, 1), face.pulse_weight, face.pulse_unit)
    if kind == "other_unit":
        unit = {"ft3": "gal", "gal": "ft3", "kgal": "gal", "m3": "L"}[face.unit]
        return Setting(9, unit, "1", face.pulse_weight, face.pulse_unit)
    return alike
