"""Read the moment that a person names for a look back."""

from __future__ import annotations

import datetime as dt
import re
from zoneinfo import ZoneInfo

from dialtrue.domain.errors.as_of import BadMoment, MomentAhead

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_TIME = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?(Z|[+-]\d{2}:?\d{2})?")


def moment_named(text: str, *, zone: str, now: dt.datetime, option: str = "--as-of") -> dt.datetime:
    """Return the moment that a text names, in UTC.

    Parameters
    ----------
    text : str
        A day, whose end is meant, or a time; without an offset it is in the programme's zone.
    zone : str
        The programme's IANA zone.
    now : datetime
        The present moment, aware.
    option : str
        The option that bore the text, for the message.

    Returns
    -------
    datetime
        Aware, in UTC. Of a day, its last microsecond, or the present moment if the day is not over.

    Raises
    ------
    BadMoment
        The text is neither.
    MomentAhead
        The moment has not come yet.

    Source
    ------
    ISO 8601, as in the file contract. Our assumption: who says "as of 31 March" means with that day.

    Examples
    --------
    >>> now = dt.datetime(2026, 6, 1, tzinfo=dt.UTC)
    >>> moment_named("2026-03-31T14:05:00Z", zone="America/Chicago", now=now).isoformat()
    '2026-03-31T14:05:00+00:00'
    >>> moment_named("2026-03-31", zone="America/Chicago", now=now).isoformat()
    '2026-04-01T04:59:59.999999+00:00'
    """
    text = text.strip()
    whole_day = _DAY.fullmatch(text) is not None
    if not whole_day and _TIME.fullmatch(text) is None:
        raise BadMoment(option=option, text=text[:40])
    try:
        moment = dt.datetime.fromisoformat(text)
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=ZoneInfo(zone))
        begun = moment.astimezone(dt.UTC)
        if whole_day:
            moment = moment + dt.timedelta(days=1)
        moment = moment.astimezone(dt.UTC)
    except (ValueError, OverflowError) as error:
        raise BadMoment(option=option, text=text[:40]) from error
    if (begun if whole_day else moment) > now:
        raise MomentAhead(option=option, text=text, now=f"{now:%Y-%m-%d %H:%M} UTC")
    return min(moment - dt.timedelta(microseconds=1), now) if whole_day else moment
