"""What a programme may say of its sampling: the seed, how lots are made, what is asked of each grade of defects."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SampleSettings:
    """The table ``[sample]`` of ``programme.toml``.

    Attributes
    ----------
    seed : str
        Fixed and told to both sides before the crew knows that a lot is due.
    lot_by : str
        ``crew_week``, ``cable_lot``, or a column of fittings or sites.
    level : str
        Inspection level.
    critical, major, minor : str
        The demand on each grade: ``aql 1.0``, ``zero 5``, ``none``. Our assumption: 1.0, 2.5 and 4.0, the limits most
        often agreed; the contract decides.
    confidence : float
        Of demands at zero. [-, 0.5..0.999]
    whole_types : tuple of str
        Meter types that are inspected whole. Our assumption: a compound meter costs most where it is wrong.
    whole_above_mm : float
        Meters of a larger nominal size are inspected whole; 50 is 2 in and DN50. Our assumption. [mm, > 0]
    series : str
        Whose lots follow each other for the switching rules: ``all`` (one contractor) or ``crew``.
    reduced : bool
        Whether reduced inspection is allowed.
    relax_by : str
        ``lots`` accepted in a row, or the ``score`` of the newer standard.
    relax_after : int
        Lots accepted in a row before it. [lots, 5..50]
    enough : int
        Inspected sites of a crew before anything is said of it. [sites, 20..1000]
    act_below : float
        Chance below which a crew's count is acted on, shared among the crews compared. [-, 0.0001..0.05]
    """

    seed: str = ""
    lot_by: str = "crew_week"
    level: str = "II"
    critical: str = "aql 1.0"
    major: str = "aql 2.5"
    minor: str = "aql 4.0"
    confidence: float = 0.95
    whole_types: tuple[str, ...] = ("compound",)
    whole_above_mm: float = 50.0
    series: str = "all"
    reduced: bool = True
    relax_by: str = "lots"
    relax_after: int = 10
    enough: int = 50
    act_below: float = 0.01
