"""How the start index follows from the dial: the rule in words, and one example worked through."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.dial import Dial
from dialtrue.domain.figures import figure
from dialtrue.domain.index import Index
from dialtrue.domain.start_index import StartIndex, start_index_for

_EXAMPLE_DIGITS: Final = "042137586942137586"
"""Digits of the example: a leading nought, and no two alike beside each other, so that a slip shows."""


@dataclass(frozen=True, slots=True)
class StartRule:
    """The rule for one dial and one index: ``words``, an example reading and what to key for it."""

    words: str
    example_dial: str
    example: StartIndex


def example_reading(dial: Dial) -> str:
    """Return an example reading of a dial, painted zeros too. Never raises. Source: definition.

    Examples
    --------
    >>> example_reading(Dial.of(moving_digits=6, fixed_zeros=1, unit="gal"))
    '0421370'
    """
    digits = _EXAMPLE_DIGITS[: dial.moving_digits] if dial.moving_digits > 1 else "4"
    return digits.ljust(dial.moving_digits, "5") + "0" * dial.fixed_zeros


def start_rule(dial: Dial, index: Index) -> StartRule:
    """Return how to find the start index of a dial.

    Parameters
    ----------
    dial : Dial
        The register's dial.
    index : Index
        The index that was chosen.

    Returns
    -------
    StartRule
        Words that hold for every reading, and an example.

    Raises
    ------
    Never raises.

    Source
    ------
    ``domain.start_index``.

    Examples
    --------
    >>> rule = start_rule(Dial.of(moving_digits=6, fixed_zeros=1, unit="gal"),
    ...     Index.of(digits=6, unit="gal", resolution=10))
    >>> rule.words, rule.example_dial, rule.example.digits
    ('Press the 6 moving digits of the dial, left to right; leave out the painted zero.', '0421370', '042137')
    """
    reading = example_reading(dial)
    example = start_index_for(dial, reading, index)
    if example.from_position is None:
        step = f"{figure(index.resolution, places=6)} {index.unit}"
        words = (
            f"The dial's digits cannot be copied: turn the reading into {index.unit}, divide by {step}, drop what is "
            f"left over, and press that number with {index.digits} digits."
        )
        return StartRule(words, reading, example)
    said = example.sentence.removeprefix(f"Press {example.digits}: ")
    return StartRule("Press " + re.sub(r" \(\d+\)", "", said), reading, example)
