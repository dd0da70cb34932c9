"""The dial: what the register on the meter shows, and the exact volume that a reading stands for."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Self

from dialtrue.domain.errors import BadDialShape, DialCharacter, DialPositions, PaintedZero
from dialtrue.domain.figures import figure
from dialtrue.domain.quantity import exact_decimal, litres_per
from dialtrue.domain.words import counted

DIGITS = "0123456789"


def first_non_digit(text: str) -> int | None:
    """Return where the first character that is not 0 to 9 stands, or None. Never raises. Source: definition."""
    return next((place for place, character in enumerate(text) if character not in DIGITS), None)


@dataclass(frozen=True, slots=True)
class Dial:
    """The face of one register.

    Parameters
    ----------
    moving_digits : int
        Wheels that turn. [1 or more]
    fixed_zeros : int
        Zeros painted to the right of them. [0 or more]
    unit : str
        Contract unit printed on the face.
    resolution : Fraction
        Value of the least moving digit. [dial units, > 0]

    Raises
    ------
    BadDialShape
        A count or the resolution is out of range.
    UnknownUnit
        ``unit`` is not a contract unit.

    Source
    ------
    Definition of the file contract: the least moving digit is worth 10^fixed_zeros dial units unless the survey's
    ``dial_resolution`` says otherwise.

    Examples
    --------
    >>> dial = Dial.of(moving_digits=6, fixed_zeros=1, unit="gal")
    >>> dial.read("0421370"), dial.capacity
    (Fraction(421370, 1), Fraction(10000000, 1))
    """

    moving_digits: int
    fixed_zeros: int
    unit: str
    resolution: Fraction

    def __post_init__(self) -> None:
        if self.moving_digits < 1:
            raise BadDialShape(what="number of moving digits", value=self.moving_digits, limit="1 or more")
        if self.fixed_zeros < 0:
            raise BadDialShape(what="number of painted zeros", value=self.fixed_zeros, limit="0 or more")
        if self.resolution <= 0:
            raise BadDialShape(what="least moving digit's value", value=figure(self.resolution), limit="more than 0")
        litres_per(self.unit)

    @classmethod
    def of(
        cls, *, moving_digits: int, unit: str, fixed_zeros: int = 0, resolution: str | Fraction | int | None = None
    ) -> Self:
        """Build a dial from a survey row.

        Parameters
        ----------
        moving_digits, fixed_zeros : int
            As counted on the face.
        unit : str
            As printed.
        resolution : str, Fraction, int or None
            The survey's ``dial_resolution``; None means 10^fixed_zeros. [dial units, > 0]

        Raises
        ------
        BadDialShape, UnknownUnit
            As the class.
        BadDecimal
            ``resolution`` is a text that is no decimal number.

        Source
        ------
        Definition of the file contract.
        """
        if resolution is None:
            value = Fraction(10 ** max(fixed_zeros, 0))
        else:
            value = exact_decimal(resolution) if isinstance(resolution, str) else Fraction(resolution)
        return cls(moving_digits, fixed_zeros, unit, value)

    @property
    def positions(self) -> int:
        """Positions on the face, moving and painted. [1 or more]"""
        return self.moving_digits + self.fixed_zeros

    @property
    def capacity(self) -> Fraction:
        """Volume at which the dial has come round to where it was. [dial units, > 0]"""
        return self.resolution * int(10**self.moving_digits)

    @property
    def resolution_l(self) -> Fraction:
        """Value of the least moving digit. [L, > 0]"""
        return self.resolution * litres_per(self.unit)

    @property
    def capacity_l(self) -> Fraction:
        """Volume at which the dial has come round. [L, > 0]"""
        return self.capacity * litres_per(self.unit)

    @property
    def face(self) -> str:
        """The face in words, such as "6 moving digits, 1 painted zero"."""
        painted = f", {counted(self.fixed_zeros, 'painted zero')}" if self.fixed_zeros else ""
        return counted(self.moving_digits, "moving digit") + painted

    def read(self, text: str) -> Fraction:
        """Return the volume that a reading stands for.

        Parameters
        ----------
        text : str
            Every position as seen, left to right: moving digits, then painted zeros, no point. Space around it is
            ignored.

        Returns
        -------
        Fraction
            The moving digits as a number times ``resolution``. [dial units, 0 <= volume < capacity]

        Raises
        ------
        DialCharacter
            Something is not a digit; the error names the character and its position.
        DialPositions
            More or fewer positions than the face has; the error says where a painted zero seems dropped or added.
        PaintedZero
            A painted position holds another digit than 0.

        Source
        ------
        Definition of the file contract.

        Examples
        --------
        >>> Dial.of(moving_digits=7, unit="m3", resolution="0.01").read("0040260")
        Fraction(2013, 5)
        """
        seen = text.strip()
        place = first_non_digit(seen)
        if place is not None:
            raise DialCharacter(text=text, character=seen[place], position=place + 1)
        if len(seen) != self.positions:
            raise DialPositions(
                text=text, seen=len(seen), expected=self.positions, face=self.face, hint=self._positions_hint(seen)
            )
        for place in range(self.moving_digits, self.positions):
            if seen[place] != "0":
                raise PaintedZero(text=text, digit=seen[place], position=place + 1)
        return int(seen[: self.moving_digits]) * self.resolution

    def show(self, volume: Fraction | int) -> str:
        """Return what the dial shows after a volume has passed since it stood at zero.

        Parameters
        ----------
        volume : Fraction or int
            Net volume; a negative one has turned the wheels back through zero. [dial units]

        Returns
        -------
        str
            floor(volume / resolution) modulo 10^moving_digits, every position, painted zeros at the end.

        Raises
        ------
        Never raises.

        Source
        ------
        Definition; a wheel between two figures shows the lower (``DIAL-READING``).

        Examples
        --------
        >>> Dial.of(moving_digits=6, fixed_zeros=1, unit="gal").show(10_421_379)
        '0421370'
        """
        steps = (Fraction(volume) / self.resolution).__floor__() % int(10**self.moving_digits)
        return f"{steps:0{self.moving_digits}d}" + "0" * self.fixed_zeros

    def _positions_hint(self, seen: str) -> str:
        """Say which slip a wrong number of positions looks like."""
        short = self.positions - len(seen)
        zeros = "The painted zero seems" if self.fixed_zeros == 1 else "The painted zeros seem"
        if not seen:
            return "Nothing was written."
        if short > 0 and short == self.fixed_zeros and seen.endswith("0" * short):
            return f"{zeros} to be left out, or as many zeros in front."
        if short > 0 and short == self.fixed_zeros:
            return f"{zeros} to be left out."
        if short > 0 and self.fixed_zeros and not seen.endswith("0" * self.fixed_zeros):
            return f"{zeros} to be left out, and zeros in front too."
        if short > 0:
            return "Zeros in front, or a wheel, seem to be left out."
        if self.fixed_zeros and seen.endswith("0" * (self.fixed_zeros - short)):
            return "A painted zero too many seems to be written."
        if seen.startswith("0" * -short):
            return "Zeros in front too many seem to be written."
        return "The sweep hand, decimals or a digit of the next position seem to be written too."
