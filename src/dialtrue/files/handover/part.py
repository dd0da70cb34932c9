"""Reads of some ports, sorted, as every form takes them; and their volumes without a rounding."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Protocol

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from dialtrue.domain.figures import decimal_places
from dialtrue.domain.handover.port import HandedPort

_INT64_MOST: Final = 2**63 - 1


@dataclass(frozen=True, slots=True)
class PortReads:
    """The reads of one port by time: ``at_us`` UTC [µs], ``index`` [counts], ``quality`` codes into ``QUALITIES``."""

    port: HandedPort
    at_us: np.ndarray
    index: np.ndarray
    quality: np.ndarray


class PartWriter(Protocol):
    """Takes the reads part by part, ports in order, and is closed at the end; says which files it wrote.

    ``give_up`` lets go of files that are still open, and may be called after ``close``.
    """

    def add(self, ports: list[PortReads]) -> None: ...
    def close(self) -> list[tuple[str, int]]: ...
    def give_up(self) -> None: ...


def volume_texts(index: np.ndarray, step: Fraction) -> pa.Array:
    """Write what each count stands for as a decimal, exactly, with as many places as one count needs.

    Parameters
    ----------
    index : np.ndarray
        Counts, int64. [0 or more]
    step : Fraction
        Value of one count; a decimal that ends. [> 0]

    Returns
    -------
    pa.Array
        Texts such as ``4213.70``.

    Raises
    ------
    ArithmeticError
        ``step`` has no end as a decimal.

    Source
    ------
    Definition: whole numbers multiplied, a point set.
    """
    places = decimal_places(step)
    if places is None:
        raise ArithmeticError(f"{step} has no end as a decimal")
    whole = int(step * 10**places)
    most = int(index.max(initial=0)) * whole
    if most <= _INT64_MOST:
        digits = pc.cast(pa.array(index * whole, pa.int64()), pa.string())
    else:
        digits = pa.array([str(count * whole) for count in index.tolist()], pa.string())
    if not places:
        return digits
    digits = pc.utf8_lpad(digits, width=places + 1, padding="0")
    long = int(pc.max(pc.utf8_length(digits)).as_py() or 0)
    before = pc.utf8_slice_codeunits(digits, 0, -places)
    after = pc.utf8_slice_codeunits(digits, -places, long)
    return pc.binary_join_element_wise(before, after, ".")


def stamps(at_us: np.ndarray) -> pa.Array:
    """Return times as Arrow keeps them, UTC to the microsecond. Never raises."""
    return pa.array(at_us, pa.int64()).cast(pa.timestamp("us", tz="UTC"))


def repeated(text: str, count: int) -> pa.Array:
    """Return a text ``count`` times. Never raises."""
    return pa.repeat(pa.scalar(text, pa.string()), count)
