"""The ratios that a wrong setting gives, with how often each is met: decades, unit ratios, and one of each."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.quantity import LITRES_PER_UNIT
from dialtrue.engine.inference_number import inference_number

_DECADE_WEIGHT = {-3: 0.03, -2: 0.12, -1: 0.36, 1: 0.34, 2: 0.12, 3: 0.03}
"""Share of each power of ten among decade errors. Our assumption: one place is the usual slip."""
_UNIT_DECADE_WEIGHT = {0: 0.84, -1: 0.06, 1: 0.06, -2: 0.02, 2: 0.02}
"""Share of a decade that comes with a unit error. Our assumption."""
_UNITS_MIXED = ("L", "m3", "gal", "gal_imp", "ft3", "ccf")


def _decades() -> tuple[np.ndarray, np.ndarray]:
    powers = sorted(_DECADE_WEIGHT)
    return np.array([10.0**k for k in powers]), np.log([_DECADE_WEIGHT[k] for k in powers])


def _units() -> tuple[np.ndarray, np.ndarray]:
    """Every distinct product of one unit ratio and one decade, smallest description first."""
    weight: dict[float, float] = {}
    for a in _UNITS_MIXED:
        for b in _UNITS_MIXED:
            ratio = inference_number(LITRES_PER_UNIT[a] / LITRES_PER_UNIT[b])
            mantissa = np.log10(ratio) % 1
            if a == b or min(mantissa, 1 - mantissa) < 1e-9:
                continue
            for k, share in _UNIT_DECADE_WEIGHT.items():
                value = float(f"{ratio * 10.0**k:.12g}")
                if 1e-4 < value < 1e4:
                    weight[value] = weight.get(value, 0.0) + share
    ratios = np.array(sorted(weight))
    shares = np.array([weight[r] for r in ratios])
    return ratios, np.log(shares / shares.sum())


DECADE_RATIOS = _decades()
"""(ratios, log shares) of errors by a power of ten."""
UNIT_RATIOS = _units()
"""(ratios, log shares) of errors by one unit ratio, some with one decade. Exact ratios from ``NIST-SP-811``."""
