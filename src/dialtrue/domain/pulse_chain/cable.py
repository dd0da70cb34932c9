"""The cable: gauge to ohms, temperature, capacitance, insulation."""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.errors import FigureRange, UnknownGauge
from dialtrue.domain.pulse_chain.corners import checked
from dialtrue.domain.pulse_chain.wire_ends import check_conductors

COPPER_OHM_M: Final = 1.0 / 58.0e6
"""Resistivity of annealed copper at 20 C, 100 % IACS: 1/58 ohm mm2/m, printed as 1.7241e-8. [ohm m]
Source: ``IEC-60028``; the published wire table agrees to its last digit with 1/58 only, not with the rounded figure."""
COPPER_PER_K: Final = 0.00393
"""Temperature coefficient of copper at 20 C. [1/K] Source: ``IEC-60028`` (memory)."""

CLASS_1_OHM_PER_KM: Final[dict[str, float]] = {"0.5": 36.0, "0.75": 24.5, "1.0": 18.1, "1.5": 12.1, "2.5": 7.41}
"""Greatest resistance of solid plain copper at 20 C by nominal mm2. [ohm/km] Source: ``IEC-60228``."""
CLASS_5_OHM_PER_KM: Final[dict[str, float]] = {"0.5": 39.0, "0.75": 26.0, "1.0": 19.5, "1.5": 13.3, "2.5": 7.98}
"""Greatest resistance of flexible plain copper at 20 C by nominal mm2. [ohm/km] Source: ``IEC-60228``."""
SMALL_FLEXIBLE_OHM_PER_KM: Final[dict[str, float]] = {"0.14": 138.0, "0.25": 79.0, "0.34": 56.0}
"""Small flexible sizes outside IEC 60228, upper figure. [ohm/km] Source: ``VDE-SMALL``."""

STRANDED_FACTOR: Final = 1.02
"""Stranded against solid of the same gauge. Source: ``NEC-TABLE-8``: 7.95 / 7.77 = 1.023, 4.99 / 4.89 = 1.020;
a sheet's own ohm_per_km overrides it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cable:
    """Data sheet of a cable. ``ohm_per_km`` is one conductor at 20 C; None = not known.

    ``insulation_mohm_km`` None means that dry insulation draws nothing that matters (our assumption: a dry pair
    measures above 20 Mohm; give the figure to have it counted). ``colours`` and ``pairs`` hold one entry for each
    conductor, or none where the sheet is silent; ``usual`` names keys that rest on common practice or memory.
    """

    key: str
    title: str = ""
    standard: str = ""
    ohm_per_km: float | None = None
    capacitance_pf_per_m: float | None = None
    insulation_mohm_km: float | None = None
    per_k: float = COPPER_PER_K
    conductors: int = 2
    colours: tuple[str, ...] = ()
    pairs: tuple[int, ...] = ()
    screen: bool = False
    usual: frozenset[str] = frozenset()
    doubtful: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        thing = f"Cable {self.key}"
        checked(self.ohm_per_km, thing=thing, name="ohm_per_km", least=0.0, most=1e6)
        checked(self.capacitance_pf_per_m, thing=thing, name="capacitance_pf_per_m", least=0.0, most=1e6)
        checked(self.insulation_mohm_km, thing=thing, name="insulation_mohm_km", least=0.0, most=1e9, above=True)
        checked(self.per_k, thing=thing, name="per_k", least=0.0, most=0.005)
        if not 2 <= self.conductors <= 200:
            raise FigureRange(thing=thing, name="conductors", value=self.conductors, expected="2 to 200")
        check_conductors(self.colours, self.pairs, self.conductors, thing=thing)


NOT_KNOWN_CABLE: Final = Cable(key="", title="not known")


def awg_diameter_mm(gauge: int) -> float:
    """Return the diameter of a solid wire of an American wire gauge.

    Parameters
    ----------
    gauge : int
        AWG number; 0, -1, -2, -3 are 1/0 to 4/0. [-3 .. 40]

    Returns
    -------
    float
        [mm]

    Raises
    ------
    UnknownGauge
        Outside the range.

    Source
    ------
    ``ASTM-B258``: d = 0.127 mm x 92^((36 - n) / 39).

    Examples
    --------
    >>> round(awg_diameter_mm(22), 4)
    0.6438
    """
    if not -3 <= gauge <= 40:
        nearest = range(38, 41) if gauge > 40 else range(-3, 0)
        raise UnknownGauge(gauge=f"AWG {gauge}", nearest=", ".join(f"AWG {number}" for number in nearest))
    return 0.127 * math.pow(92.0, (36 - gauge) / 39)


def awg_ohm_per_km(gauge: int, *, stranded: bool = False) -> float:
    """Return the resistance of one copper conductor at 20 C.

    Parameters
    ----------
    gauge : int
        AWG number. [-3 .. 40]
    stranded : bool
        Adds ``STRANDED_FACTOR``.

    Returns
    -------
    float
        [ohm/km]

    Raises
    ------
    UnknownGauge
        Outside the range.

    Source
    ------
    ``ASTM-B258`` for the diameter, ``IEC-60028`` for copper, ``NEC-TABLE-8`` for the stranded factor.

    Examples
    --------
    >>> round(awg_ohm_per_km(22), 3)
    52.963
    """
    diameter_m = awg_diameter_mm(gauge) / 1000.0
    solid = COPPER_OHM_M / (math.pi / 4.0 * diameter_m * diameter_m) * 1000.0
    return solid * STRANDED_FACTOR if stranded else solid


def gauge_ohm_per_km(gauge: str, *, stranded: bool = False) -> float:
    """Read a gauge as written, ``AWG 22`` or ``0.5 mm2``, and return ohms per km at 20 C.

    Parameters
    ----------
    gauge : str
        ``AWG n``, or a nominal cross-section of the metric tables in mm2.
    stranded : bool
        Stranded or flexible.

    Returns
    -------
    float
        One conductor. The metric figures are the greatest that the standard allows. [ohm/km]

    Raises
    ------
    UnknownGauge
        Not in the tables; names the nearest.

    Source
    ------
    ``ASTM-B258``, ``IEC-60228``, ``VDE-SMALL``.

    Examples
    --------
    >>> gauge_ohm_per_km("0.5 mm2")
    36.0
    """
    text = gauge.strip()
    compact = text.upper().replace(" ", "").replace("²", "2").replace(",", ".")
    if compact.startswith("AWG") and compact[3:].lstrip("-").isdigit():
        return awg_ohm_per_km(int(compact[3:]), stranded=stranded)
    if compact.endswith("AWG") and compact[:-3].isdigit():
        return awg_ohm_per_km(int(compact[:-3]), stranded=stranded)
    table = (CLASS_5_OHM_PER_KM | SMALL_FLEXIBLE_OHM_PER_KM) if stranded else CLASS_1_OHM_PER_KM
    size = compact.removesuffix("MM2")
    for name, ohm in table.items():
        if compact.endswith("MM2") and _same_number(size, name):
            return ohm
    raise UnknownGauge(gauge=gauge, nearest=", ".join(_nearest_gauges(compact, size, table)))


def _same_number(text: str, name: str) -> bool:
    """True where both are the same decimal number."""
    try:
        return float(text) == float(name)
    except ValueError:
        return False


def _nearest_gauges(compact: str, size: str, table: dict[str, float]) -> list[str]:
    """Return three allowed names, nearest by number where there is one, else by spelling."""
    try:
        wanted = float(size)
    except ValueError:
        names = [f"AWG {number}" for number in range(10, 31)] + [f"{name} mm2" for name in table]
        return difflib.get_close_matches(compact, names, n=3, cutoff=0.0)
    ordered = sorted(table, key=lambda name: abs(float(name) - wanted))
    return [f"{name} mm2" for name in ordered[:3]]


def temperature_factor(temperature_c: float, per_k: float) -> float:
    """Return resistance at a temperature over resistance at 20 C.

    Parameters
    ----------
    temperature_c : float
        [C]
    per_k : float
        Coefficient at 20 C. [1/K]

    Returns
    -------
    float
        [-]

    Raises
    ------
    Never raises.

    Source
    ------
    ``IEC-60028``: R(T) = R20 (1 + 0.00393 (T - 20)).

    Examples
    --------
    >>> round(temperature_factor(75.0, 0.00393), 4)
    1.2162
    """
    return 1.0 + per_k * (temperature_c - 20.0)


def loop_ohm(ohm_per_km: float, length_m: float, factor: float) -> float:
    """Return the resistance of a pair, there and back: 2 L times the conductor's ohms. [ohm] Source: definition."""
    return 2.0 * length_m * (ohm_per_km / 1000.0) * factor
