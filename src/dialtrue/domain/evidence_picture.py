"""What a block of evidence has to show of one port: plain data that any renderer can draw or print as a table."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final, Literal

Kind = Literal["line", "points", "bars", "table"]
Place = dt.datetime | float | str
"""Where a value stands: a moment (aware, UTC), a number, or a word such as the name of a group."""
MarkKind = Literal["moment", "band", "level"]
Role = Literal["onset", "wet", "fitting", "expected", "limit"]

_EPOCH: Final = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


@dataclass(frozen=True, slots=True)
class Series:
    """One row of values with its name, drawn with a label of its own.

    Parameters
    ----------
    name : str
        What the values are, as a label beside the line: "dial", "index", "this port", "the town".
    unit : str
        Unit of ``y``: "gal", "bits", "share of counts"; blank for plain numbers.
    x : tuple of datetime, float or str
        Where each value stands, all of one type, in the order to draw.
    y : tuple of float or None
        The values; None where nothing is known, which breaks a line and leaves a gap among bars.
    kind : "line", "points", "bars", "table" or ""
        How this series is drawn; "" takes the picture's own kind, so that points may stand on a line.
    low, high : tuple of float, optional
        Interval of each value, or empty.

    Raises
    ------
    ValueError
        The lengths differ: a mistake of ours, never of a user.
    """

    name: str
    unit: str
    x: tuple[Place, ...]
    y: tuple[float | None, ...]
    kind: Kind | Literal[""] = ""
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        """Refuse rows of unequal length."""
        if len(self.x) != len(self.y) or len(self.low) not in (0, len(self.x)) or len(self.high) != len(self.low):
            raise ValueError(f"series {self.name!r}: {len(self.x)} places, {len(self.y)} values, {len(self.low)} lows")


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that stands behind the values.

    ``moment`` is an upright hairline at ``start``; ``band`` the span from ``start`` to ``end`` of the x axis; ``level``
    a horizontal line at the y value ``start``. ``role`` says what it means, so that a page can give it its look.
    """

    name: str
    kind: MarkKind
    role: Role
    start: Place
    end: Place | None = None


@dataclass(frozen=True, slots=True)
class EvidencePicture:
    """One picture of one block for one port. The engine fills it; nothing in it knows of ink or pixels.

    ``caption`` is one sentence that says what is to be seen, figures included: whoever sees only the caption has the
    point. ``x_name`` names the x axis, blank for time. ``zero`` asks for a y axis that shows zero. ``span`` widens the
    x axis beyond the series, so that pictures of one port can share it.
    """

    title: str
    kind: Kind
    series: tuple[Series, ...]
    caption: str
    x_name: str = ""
    marks: tuple[Mark, ...] = ()
    zero: bool = False
    span: tuple[Place, Place] | None = None


def moments(us: Iterable[int]) -> tuple[dt.datetime, ...]:
    """Return the aware UTC moments of microseconds since 1970, as the arrays of the watch hold them. Never raises.

    Examples
    --------
    >>> moments([86_400_000_000])[0].isoformat()
    '1970-01-02T00:00:00+00:00'
    """
    return tuple(_EPOCH + dt.timedelta(microseconds=int(each)) for each in us)


def picture_rows(picture: EvidencePicture) -> tuple[tuple[str, ...], list[tuple[Place, ...]]]:
    """Return the picture as a table: a heading, and one row a place that any series has, in order.

    Parameters
    ----------
    picture : EvidencePicture

    Returns
    -------
    heading : tuple of str
        Name of the x axis, then each series with its unit.
    rows : list of tuple
        The place, then each series' value there; an empty text where it has none.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: a table is the text alternative of a chart.

    Examples
    --------
    >>> steps = Series(name="days", unit="", x=(10.0, 20.0), y=(3.0, None))
    >>> picture_rows(EvidencePicture("Grain", "bars", (steps,), "All tens.", x_name="common divisor"))
    (('common divisor', 'days'), [(10.0, 3.0), (20.0, '')])
    """
    heading = [picture.x_name or "time (UTC)"]
    places: dict[Place, list[Place]] = {}
    for column, series in enumerate(picture.series):
        heading.append(f"{series.name} [{series.unit}]" if series.unit else series.name)
        for x, y in zip(series.x, series.y, strict=True):
            row = places.setdefault(x, [""] * len(picture.series))
            row[column] = "" if y is None else y
    order = list(places)
    if order and not isinstance(order[0], str):
        order.sort()  # all of one type, as Series asks
    return tuple(heading), [(place, *places[place]) for place in order]


def in_unit(picture: EvidencePicture, unit: str, litres_per_unit: float) -> EvidencePicture:
    """Return the picture with every volume in another unit.

    Parameters
    ----------
    picture : EvidencePicture
        Its series in "L", "L/day", "L/h" are converted, and its levels with the first of them; others stay.
    unit : str
        Contract unit to show.
    litres_per_unit : float
        Its value. [L, > 0]

    Returns
    -------
    EvidencePicture

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> flow = Series(name="rate", unit="L/h", x=(1.0,), y=(7.57,))
    >>> in_unit(EvidencePicture("Rate", "line", (flow,), "Steady."), "gal", 3.785).series[0]
    Series(name='rate', unit='gal/h', x=(1.0,), y=(2.0,), kind='', low=(), high=())
    """

    def volume(series: Series) -> bool:
        return series.unit == "L" or series.unit.startswith("L/")

    def converted(series: Series) -> Series:
        if not volume(series):
            return series
        y = tuple(None if value is None else value / litres_per_unit for value in series.y)
        low, high = (tuple(value / litres_per_unit for value in ends) for ends in (series.low, series.high))
        return replace(series, unit=unit + series.unit[1:], y=y, low=low, high=high)

    scaled = bool(picture.series) and volume(picture.series[0])
    marks = tuple(
        replace(mark, start=mark.start / litres_per_unit)
        if scaled and mark.kind == "level" and isinstance(mark.start, float)
        else mark
        for mark in picture.marks
    )
    return replace(picture, series=tuple(converted(series) for series in picture.series), marks=marks)
