"""The only place that asks the machine for the time."""

from __future__ import annotations

import datetime as dt


def now_utc() -> dt.datetime:
    """Return the present moment, aware, in UTC."""
    return dt.datetime.now(dt.UTC)
