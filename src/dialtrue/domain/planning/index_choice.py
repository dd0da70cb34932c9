"""Which index to set: it holds the dial, keeps the billing unit, and gives every pulse a place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from dialtrue.domain.dial import Dial
from dialtrue.domain.figures import figure
from dialtrue.domain.index import Index
from dialtrue.domain.quantity import litres_per


@dataclass(frozen=True, slots=True)
class IndexChoice:
    """The index to set, and what it keeps.

    ``holds_dial``: it turns over no earlier than the dial; ``lasts``: nor before the asked volume. ``keeps_billing``:
    the billing unit is a whole number of counts. ``whole_pulses``: a pulse is a whole number of counts, or a count of
    pulses.
    """

    index: Index
    holds_dial: bool
    lasts: bool
    keeps_billing: bool
    whole_pulses: bool

    @property
    def note(self) -> str:
        """What this index does not keep, in words; blank if it keeps all."""
        parts = []
        if not self.holds_dial:
            capacity = f"{figure(self.index.capacity)} {self.index.unit}"
            parts.append(f"The index turns over at {capacity}, before the dial does: declare its digits to billing.")
        if not self.keeps_billing:
            parts.append("The billing unit is no whole number of counts: the bill rounds.")
        if not self.whole_pulses:
            parts.append("A pulse is no whole number of counts: single counts come unevenly.")
        return " ".join(parts)


def _divides(small: Fraction, large: Fraction) -> bool:
    """Return whether ``large`` is a whole number of ``small``."""
    return (large / small).denominator == 1


def choose_index(
    dial: Dial,
    weight_l: Fraction,
    *,
    digits: Sequence[int],
    units: Sequence[str],
    resolutions: Sequence[Fraction],
    billing_l: Fraction | None = None,
    least_capacity_l: Fraction = Fraction(0),
) -> IndexChoice | None:
    """Choose the index for a dial.

    Parameters
    ----------
    dial : Dial
        The register's dial.
    weight_l : Fraction
        Volume per pulse. [L, > 0]
    digits, units, resolutions : sequence of int, str, Fraction
        What the endpoint offers; resolutions in index units.
    billing_l : Fraction or None
        The unit that is billed. [L, > 0]
    least_capacity_l : Fraction
        Volume that the index should hold besides, such as 1600 h at Q3. [L, >= 0]

    Returns
    -------
    IndexChoice or None
        None where the endpoint does not count in the dial's unit.

    Raises
    ------
    Never raises.

    Notes
    -----
    Of all that is offered in the dial's unit the first by these wishes, in this order: it turns over no earlier than
    the dial; nor before ``least_capacity_l``; the billing unit is a whole number of counts; pulses and counts are whole
    numbers of each other; each moving digit of the dial has its place; no count is larger than a pulse; the coarsest of
    those; then the fewest digits that last, or the most where none do.

    Source
    ------
    Our assumption: an index that turns with the dial, digit under digit, leaves least to get wrong; override by an
    endpoint sheet that offers less.

    Examples
    --------
    >>> face = Dial.of(moving_digits=6, fixed_zeros=1, unit="gal")
    >>> choice = choose_index(face, 10 * litres_per("gal"), digits=(6, 8), units=("gal",),
    ...     resolutions=(Fraction(1), Fraction(10)))
    >>> choice.index.digits, choice.index.resolution, choice.holds_dial
    (6, Fraction(10, 1), True)
    """
    if dial.unit not in units:
        return None
    unit_l = litres_per(dial.unit)
    best: tuple[tuple[bool, bool, bool, bool, bool, bool, Fraction, int], IndexChoice] | None = None
    for resolution in resolutions:
        step_l = resolution * unit_l
        whole = _divides(step_l, weight_l) or _divides(weight_l, step_l)
        keeps = billing_l is None or _divides(step_l, billing_l)
        for count in digits:
            index = Index(count, dial.unit, resolution)
            holds = index.capacity >= dial.capacity
            lasts = index.capacity_l >= least_capacity_l
            wishes = (
                holds,
                lasts,
                keeps,
                whole,
                _divides(resolution, dial.resolution),
                step_l <= weight_l,
                resolution,
                -count if holds and lasts else count,
            )
            if best is None or wishes > best[0]:
                best = wishes, IndexChoice(index, holds, lasts, keeps, whole)
    return None if best is None else best[1]
