"""Water whose every draw is known, and the plain register that it runs through."""

from __future__ import annotations

import datetime as dt

import numpy as np

from dialtrue.engine.simulation.demand import Events, UseCurve, curve_of
from dialtrue.engine.simulation.meters import Face, Setting
from dialtrue.engine.simulation.sky import DAY_S, HOUR_S

FIRST = dt.datetime(2025, 5, 5, 5, tzinfo=dt.UTC)
FIRST_S = int(FIRST.timestamp())
DAYS = 60
END_S = FIRST_S + DAYS * DAY_S
FACE = Face(7, 0, "gal", "1", "1", "gal")
SETTING = Setting(7, "gal", "1", "1", "gal")


def draws(*, minutes_apart: float, litres: float, flow_l_s: float) -> UseCurve:
    """Return a curve of equal draws at equal distances."""
    start = np.arange(FIRST_S + 60.0, END_S - HOUR_S, minutes_apart * 60)
    events = Events(start, np.full(len(start), litres / flow_l_s), np.full(len(start), flow_l_s))
    return curve_of(events, first_s=FIRST_S - DAY_S, last_s=END_S, max_flow_l_s=2.0)


NO_WATER = UseCurve(np.array([FIRST_S - DAY_S, END_S], float), np.zeros(2))
