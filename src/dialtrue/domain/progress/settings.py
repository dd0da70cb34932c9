"""What a programme may say of its figures: how fresh a read must be, when a second look is due, what status means."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FiguresSettings:
    """The table ``[figures]`` of ``programme.toml``.

    Attributes
    ----------
    fresh_days : int
        A port reads if its last read is no older than this. Our assumption: a week; contracts often name it. [days]
    rework_days : int
        A fault found within this time of the fitting is rework. Our assumption: two months. [days]
    pair_from_days, pair_to_days : int
        The second look at dial and index is due between these ages of a fitting. Our assumption: about a month, when
        enough water has passed to show a wrong weight. [days]
    proof_width : float
        A pair proves where the ratio of index to dial is known within this, either way. Our assumption: a tenth tells
        every decade, unit and double count apart. [-]
    enough : int
        Ports of a group before a share of it is told. Our assumption: about fifty. [ports]
    status_column : str
        The column of ``sites`` that says how far a site is.
    turned_back : tuple of str
        Words of that column for a site that was handed back.
    recorded_column : str
        The column of ``fittings`` that says when the record came in.
    near_m : float
        Silent ports this near to each other may have one cause. Our assumption: the reach of one collector's gap. [m]
    cluster : int
        Silent endpoints that near from which the collector or the route is looked at first. Our assumption. [endpoints]
    """

    fresh_days: int = 7
    rework_days: int = 60
    pair_from_days: int = 25
    pair_to_days: int = 45
    proof_width: float = 0.1
    enough: int = 50
    status_column: str = "status"
    turned_back: tuple[str, ...] = ("turned_back", "turned back", "handed_back", "handed back", "returned")
    recorded_column: str = "recorded_at"
    near_m: float = 250.0
    cluster: int = 3
