"""When somebody looks at a dial again, and what tired eyes make of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dialtrue.engine.simulation.keying import misread
from dialtrue.engine.simulation.port import Port
from dialtrue.engine.simulation.sky import DAY_S

MISREAD_SHARE = 0.01
"""Share of looks at a dial that are written down wrongly. Our assumption; override by editing the constant."""
DATE_ONLY_SHARE = 0.04
"""Share of a reader's looks of which only the day is known: stamped at noon. Our assumption, as above."""


@dataclass(frozen=True, slots=True)
class DialRounds:
    """How dials are read again.

    ``share`` of the registers is read at all; ``every_days`` is the time between two rounds, None for one look 25 to
    45 days after the fitting, or at any time (``anywhen``); ``photo_share`` of the registers has a photograph too.
    """

    share: float
    every_days: float | None = None
    photo_share: float = 0.1
    anywhen: bool = False


DIAL_ROUNDS: dict[str, DialRounds | None] = {
    "share": None,
    "dense": DialRounds(0.97, every_days=30.0),
    "sparse": DialRounds(0.3, photo_share=0.05, anywhen=True),
}
"""Our assumption: rounds about every 30 days on 97 % of the registers, or one look at some time on three in ten;
override by ``TownPlan.dial_reads``. None: ``TownPlan.dial_read_share``."""


@dataclass(frozen=True, slots=True)
class Look:
    """One look at a dial: its time and its stamp [s since 1970], who looked, the digits as written, if wrong."""

    at_s: int
    stamped_s: int
    source: str
    moving: int
    wrong: bool


def looks_at(port: Port, rng: np.random.Generator, rounds: DialRounds) -> list[Look]:
    """Return the looks at a port's dial after its fitting, in order of time.

    Source
    ------
    One look in a hundred is misread, clocks are minutes out, some stamps hold only the day: our assumption; see the
    constants above.
    """
    out = []
    for at_s, source, spread_s in _moments(port, rng, rounds):
        slip = rng.random() < MISREAD_SHARE
        stamped = at_s + int(rng.normal(0, spread_s))
        if source == "reader" and rng.random() < DATE_ONLY_SHARE:
            stamped = at_s - at_s % DAY_S + DAY_S // 2
        if not port.fitted_s + DAY_S < min(at_s, stamped) or not max(at_s, stamped) < port.end_s:
            continue
        value = port.dial_at(at_s)
        out.append(Look(at_s, stamped, source, misread(rng, value, port.spec.face.digits) if slip else value, slip))
    return sorted(out, key=lambda look: look.stamped_s)


def _moments(port: Port, rng: np.random.Generator, rounds: DialRounds) -> list[tuple[int, str, float]]:
    """Return when the dial is looked at, by whom, and how far their clock strays. [s since 1970; s]"""
    out: list[tuple[int, str, float]] = []
    if rng.random() < rounds.share:
        if rounds.every_days is not None:
            day = float(rng.uniform(0.5, 1.1)) * rounds.every_days
            while port.fitted_s + day * DAY_S < port.end_s:
                out.append((port.fitted_s + int(day * DAY_S), "reader", 200.0))
                day += rounds.every_days + float(rng.uniform(-4, 4))
        elif rounds.anywhen:
            out.append((port.fitted_s + int(rng.uniform(0.15, 1.0) * (port.end_s - port.fitted_s)), "reader", 200.0))
        else:
            out.append((port.fitted_s + int(rng.uniform(25, 45) * DAY_S), "reader", 200.0))
    if rng.random() < rounds.photo_share:
        at_s = int(rng.uniform(port.fitted_s + 2 * DAY_S, max(port.end_s, port.fitted_s + 3 * DAY_S)))
        out.append((at_s, str(rng.choice(("customer", "photo"))), 600.0))
    return out
