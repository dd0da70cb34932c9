"""The index: the remote total that an endpoint keeps and sends."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Self

from dialtrue.domain.dial import first_non_digit
from dialtrue.domain.errors import BadIndexShape, BadPulseWeight, StartIndexText
from dialtrue.domain.figures import figure
from dialtrue.domain.quantity import convert, exact_decimal, litres_per


@dataclass(frozen=True, slots=True)
class Index:
    """The counter of one port.

    Parameters
    ----------
    digits : int
        Digits before the index comes round. [1 or more]
    unit : str
        Contract unit of ``resolution``.
    resolution : Fraction
        Value of the least digit sent. [index units, > 0]

    Raises
    ------
    BadIndexShape
        ``digits`` or ``resolution`` is out of range.
    UnknownUnit
        ``unit`` is not a contract unit.

    Source
    ------
    Definition of the file contract (``index_digits``, ``index_unit``, ``index_resolution``).

    Examples
    --------
    >>> index = Index.of(digits=6, unit="gal", resolution="10")
    >>> index.show(42_137), index.volume(42_137), index.capacity
    ('042137', Fraction(421370, 1), Fraction(10000000, 1))
    """

    digits: int
    unit: str
    resolution: Fraction

    def __post_init__(self) -> None:
        if self.digits < 1:
            raise BadIndexShape(what="number of digits", value=self.digits, limit="1 or more")
        if self.resolution <= 0:
            raise BadIndexShape(what="least digit's value", value=figure(self.resolution), limit="more than 0")
        litres_per(self.unit)

    @classmethod
    def of(cls, *, digits: int, unit: str, resolution: str | Fraction | int = 1) -> Self:
        """Build an index from a fitting's row.

        Raises
        ------
        BadIndexShape, UnknownUnit
            As the class.
        BadDecimal
            ``resolution`` is a text that is no decimal number.

        Source
        ------
        Definition of the file contract.
        """
        value = exact_decimal(resolution) if isinstance(resolution, str) else Fraction(resolution)
        return cls(digits, unit, value)

    @property
    def modulus(self) -> int:
        """Counts after which the index has come round: 10^digits. [counts]"""
        return int(10**self.digits)

    @property
    def capacity(self) -> Fraction:
        """Volume at which the index has come round. [index units, > 0]"""
        return self.resolution * self.modulus

    @property
    def resolution_l(self) -> Fraction:
        """Value of one count. [L, > 0]"""
        return self.resolution * litres_per(self.unit)

    @property
    def capacity_l(self) -> Fraction:
        """Volume at which the index has come round. [L, > 0]"""
        return self.capacity * litres_per(self.unit)

    def volume(self, count: int) -> Fraction:
        """Return the volume that a count stands for. [index units] Never raises. Source: definition."""
        return count * self.resolution

    def show(self, count: int) -> str:
        """Return a count as the index holds it, modulo 10^digits, padded. Never raises. Source: definition."""
        return f"{count % self.modulus:0{self.digits}d}"

    def keyed(self, text: str) -> int:
        """Return the count that a start index text stands for.

        Parameters
        ----------
        text : str
            Digits as keyed, padded or not; space around them is ignored.

        Returns
        -------
        int
            [counts, 0 <= count < 10^digits]

        Raises
        ------
        StartIndexText
            Something is no digit, nothing was keyed, or the number needs more digits than the index has.

        Source
        ------
        Definition of the file contract: compared as numbers of that many digits.

        Examples
        --------
        >>> Index.of(digits=6, unit="gal", resolution=10).keyed("42137")
        42137
        """
        seen = text.strip()
        significant = seen.lstrip("0")
        if not seen or first_non_digit(seen) is not None or len(significant) > self.digits:
            raise StartIndexText(text=text, digits=self.digits)
        return int(significant or "0")

    def after(self, start_count: int, pulses: int, pulse_weight: Fraction | int, weight_unit: str) -> int:
        """Return the count after some pulses.

        Parameters
        ----------
        start_count : int
            Count keyed at the start. [counts]
        pulses : int
            Pulses counted since; negative where the endpoint counts back. [pulses]
        pulse_weight : Fraction or int
            Volume per pulse that the endpoint was told. [weight_unit per pulse, > 0]
        weight_unit : str
            Contract unit of ``pulse_weight``.

        Returns
        -------
        int
            floor((S q + w N) / q) modulo 10^digits. [counts, 0 <= count < 10^digits]

        Raises
        ------
        BadPulseWeight
            ``pulse_weight`` is zero or less.
        UnknownUnit
            ``weight_unit`` is not a contract unit.

        Source
        ------
        Definition: the endpoint keeps whole pulses and sends whole counts; a part count waits for the next pulse.

        Examples
        --------
        >>> Index.of(digits=6, unit="gal").after(999_990, 3, 10, "gal")
        20
        """
        if pulse_weight <= 0:
            raise BadPulseWeight(what="weight set", value=figure(Fraction(pulse_weight)), unit=weight_unit)
        gained = convert(pulse_weight, weight_unit, self.unit) * pulses / self.resolution
        return (start_count + gained.__floor__()) % self.modulus
