"""The one crossing from exact figures to the floats of inference."""

from __future__ import annotations

from fractions import Fraction


def inference_number(value: Fraction | int | None) -> float:
    """Return an exact figure as the float that inference works with; nan where it is not known.

    Never raises. Nothing crosses back: a billed figure is never made from the result.

    Source
    ------
    Definition.
    """
    return float("nan") if value is None else float(value)
