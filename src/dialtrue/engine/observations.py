"""What can be looked at, what it costs, and how probable each outcome is under each fault.

``OUTCOMES`` gives for every kind of look the chance of each outcome given the fault: our assumptions, from the order of
evidence of field practice (a dial photograph removes more doubt for its price than any statistic). Rows that are not
listed are those of a port that counts true. They steer what is asked for, never what is said to be true: the outcome
itself comes back as a dial read or a check, and is weighed as such.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from dialtrue.domain.faults import COLUMN, FAULTS, INNOCENT
from dialtrue.engine.fleet import Floats

Place = Literal["desk", "remote", "site"]


@dataclass(frozen=True, slots=True)
class Look:
    """One kind of observation.

    ``place`` says who has to move: nobody (``desk``), somebody who is there anyway (``remote``), a technician
    (``site``). ``minutes`` is the time on site; ``days`` how long until it is known. ``outcomes`` names the columns.
    """

    name: str
    place: Place
    days: float
    minutes: float
    outcomes: tuple[str, ...]


LOOKS: Final[dict[str, Look]] = {
    look.name: look
    for look in (
        Look("photo", "remote", 7, 0, ("level", "apart", "behind", "ahead", "ratio", "still", "strange")),
        Look("plate", "remote", 7, 0, ("as recorded", "another serial", "another face", "against the arrow")),
        Look("terminals", "remote", 7, 0, ("as drawn", "wrong terminals", "wet", "loose or cut")),
        Look("fresh_read", "remote", 3, 0, ("as delivered", "further on", "standing still", "wrong time", "silent")),
        Look("desk", "desk", 1, 0, ("in order", "an order found", "twice or repeated", "entered wrongly")),
        Look("wait_week", "desk", 7, 0, ("as before", "caught up", "resumed short", "more with rain")),
        Look("cover_off", "site", 10, 10, ("dry and tight", "wet", "loose, cut or wrong", "another wire or label")),
        Look("valve_shut", "site", 10, 15, ("index still", "index climbs", "sweep hand rocks")),
        Look(
            "draw", "site", 10, 30,
            ("both right", "both short", "fast one short", "slow one over", "twice", "another ratio", "nothing"),
        ),
        Look("draw_watch_both", "site", 10, 15, ("its own index", "the other index")),
        Look("known_volume", "site", 10, 30, ("dial right", "dial wrong")),
    )
}  # fmt: skip

Rows = dict[str, tuple[float, ...]]
OUTCOMES: Final[dict[str, Rows]] = {
    # level, apart, behind, ahead, ratio, still, strange
    "photo": {
        "sound": (0.955, 0.012, 0.004, 0.004, 0.002, 0.02, 0.003),
        "customer_leak": (0.974, 0.012, 0.004, 0.004, 0.002, 0.001, 0.003),
        "vacant": (0.25, 0.01, 0.004, 0.004, 0.001, 0.727, 0.004),
        "dead_input": (0.02, 0.02, 0.90, 0.001, 0.009, 0.03, 0.02),
        "lost_counts": (0.15, 0.02, 0.80, 0.001, 0.018, 0.001, 0.01),
        "double_count": (0.02, 0.01, 0.001, 0.12, 0.838, 0.001, 0.01),
        "extra_counts": (0.15, 0.02, 0.001, 0.80, 0.018, 0.001, 0.01),
        "wet_counts": (0.15, 0.08, 0.001, 0.72, 0.009, 0.03, 0.01),
        "steady_counts": (0.05, 0.05, 0.001, 0.849, 0.02, 0.02, 0.01),
        "intermittent": (0.15, 0.12, 0.70, 0.001, 0.009, 0.01, 0.01),
        "weight_decade": (0.01, 0.01, 0.05, 0.05, 0.869, 0.001, 0.01),
        "unit_slip": (0.01, 0.01, 0.06, 0.06, 0.849, 0.001, 0.01),
        "digit_slip": (0.15, 0.72, 0.04, 0.04, 0.03, 0.001, 0.019),
        "start_slip": (0.03, 0.93, 0.01, 0.01, 0.009, 0.001, 0.01),
        "crossed": (0.05, 0.05, 0.25, 0.25, 0.02, 0.03, 0.35),
        "ports_swapped": (0.03, 0.02, 0.40, 0.40, 0.099, 0.001, 0.05),
        "duplicate_serial": (0.35, 0.10, 0.10, 0.10, 0.02, 0.03, 0.30),
        "meter_exchanged": (0.05, 0.349, 0.05, 0.05, 0.05, 0.001, 0.45),
        "stale_index": (0.70, 0.05, 0.20, 0.01, 0.01, 0.02, 0.01),
        "clock_shift": (0.90, 0.03, 0.03, 0.02, 0.005, 0.005, 0.01),
        "backflow_counted": (0.20, 0.05, 0.001, 0.70, 0.009, 0.03, 0.01),
        "index_reset": (0.03, 0.90, 0.03, 0.001, 0.009, 0.001, 0.029),
        "meter_reversed": (0.01, 0.02, 0.10, 0.10, 0.019, 0.001, 0.75),
        "port_unread": (0.20, 0.02, 0.70, 0.001, 0.019, 0.03, 0.03),
        "not_listed": (0.20, 0.20, 0.15, 0.15, 0.05, 0.05, 0.20),
    },
    # as recorded, another serial, another face, against the arrow
    "plate": {
        "sound": (0.97, 0.015, 0.01, 0.005),
        "meter_exchanged": (0.05, 0.93, 0.02, 0.0),
        "duplicate_serial": (0.20, 0.75, 0.05, 0.0),
        "crossed": (0.55, 0.42, 0.02, 0.01),
        "ports_swapped": (0.80, 0.10, 0.10, 0.0),
        "port_unread": (0.10, 0.10, 0.80, 0.0),
        "unit_slip": (0.45, 0.01, 0.54, 0.0),
        "weight_decade": (0.50, 0.01, 0.49, 0.0),
        "start_slip": (0.60, 0.01, 0.39, 0.0),
        "register_mismatch": (0.40, 0.05, 0.55, 0.0),
        "meter_reversed": (0.20, 0.0, 0.0, 0.80),
        "not_listed": (0.70, 0.15, 0.13, 0.02),
    },
    # as drawn, wrong terminals, wet, loose or cut
    "terminals": {
        "sound": (0.95, 0.01, 0.03, 0.01),
        "dead_input": (0.30, 0.25, 0.15, 0.30),
        "wet_counts": (0.20, 0.01, 0.77, 0.02),
        "intermittent": (0.40, 0.05, 0.15, 0.40),
        "double_count": (0.60, 0.38, 0.01, 0.01),
        "meter_reversed": (0.50, 0.45, 0.03, 0.02),
        "crossed": (0.50, 0.45, 0.03, 0.02),
        "ports_swapped": (0.25, 0.72, 0.02, 0.01),
        "lost_counts": (0.75, 0.05, 0.05, 0.15),
        "not_listed": (0.70, 0.10, 0.10, 0.10),
    },
    # as delivered, further on, standing still, wrong time, silent
    "fresh_read": {
        "sound": (0.945, 0.02, 0.02, 0.005, 0.01),
        "vacant": (0.10, 0.01, 0.87, 0.005, 0.015),
        "stale_index": (0.05, 0.92, 0.01, 0.01, 0.01),
        "dead_input": (0.03, 0.01, 0.93, 0.005, 0.025),
        "intermittent": (0.75, 0.02, 0.20, 0.005, 0.025),
        "clock_shift": (0.12, 0.01, 0.01, 0.85, 0.01),
        "index_reset": (0.75, 0.05, 0.05, 0.05, 0.10),
        "duplicate_serial": (0.60, 0.30, 0.04, 0.01, 0.05),
        "not_listed": (0.70, 0.12, 0.06, 0.06, 0.06),
    },
    # in order, an order found, twice or repeated, entered wrongly
    "desk": {
        "sound": (0.93, 0.02, 0.02, 0.03),
        "vacant": (0.45, 0.51, 0.02, 0.02),
        "use_change": (0.50, 0.46, 0.02, 0.02),
        "meter_exchanged": (0.30, 0.65, 0.02, 0.03),
        "duplicate_serial": (0.10, 0.05, 0.80, 0.05),
        "stale_index": (0.20, 0.02, 0.75, 0.03),
        "clock_shift": (0.25, 0.02, 0.68, 0.05),
        "start_slip": (0.45, 0.03, 0.02, 0.50),
        "weight_decade": (0.50, 0.03, 0.02, 0.45),
        "unit_slip": (0.50, 0.03, 0.02, 0.45),
        "digit_slip": (0.50, 0.03, 0.02, 0.45),
        "port_unread": (0.15, 0.05, 0.10, 0.70),
        "crossed": (0.60, 0.15, 0.15, 0.10),
        "index_reset": (0.50, 0.35, 0.05, 0.10),
        "register_mismatch": (0.60, 0.10, 0.02, 0.28),
        "not_listed": (0.60, 0.15, 0.10, 0.15),
    },
    # as before, caught up, resumed short, more with rain
    "wait_week": {
        "sound": (0.97, 0.01, 0.01, 0.01),
        "vacant": (0.85, 0.0, 0.14, 0.01),
        "dead_input": (0.94, 0.005, 0.05, 0.005),
        "stale_index": (0.50, 0.45, 0.045, 0.005),
        "intermittent": (0.55, 0.01, 0.43, 0.01),
        "wet_counts": (0.55, 0.0, 0.0, 0.45),
        "not_listed": (0.85, 0.05, 0.05, 0.05),
    },
    # dry and tight, wet, loose, cut or wrong, another wire or label
    "cover_off": {
        "sound": (0.94, 0.04, 0.01, 0.01),
        "dead_input": (0.12, 0.15, 0.70, 0.03),
        "wet_counts": (0.06, 0.90, 0.03, 0.01),
        "intermittent": (0.20, 0.15, 0.63, 0.02),
        "lost_counts": (0.60, 0.05, 0.33, 0.02),
        "double_count": (0.60, 0.02, 0.37, 0.01),
        "crossed": (0.10, 0.03, 0.02, 0.85),
        "ports_swapped": (0.08, 0.02, 0.05, 0.85),
        "duplicate_serial": (0.10, 0.03, 0.02, 0.85),
        "meter_exchanged": (0.10, 0.03, 0.02, 0.85),
        "not_listed": (0.55, 0.15, 0.15, 0.15),
    },
    # index still, index climbs, sweep hand rocks
    "valve_shut": {
        "sound": (0.975, 0.015, 0.01),
        "steady_counts": (0.03, 0.96, 0.01),
        "wet_counts": (0.60, 0.39, 0.01),
        "backflow_counted": (0.20, 0.10, 0.70),
        "extra_counts": (0.90, 0.09, 0.01),
        "not_listed": (0.75, 0.20, 0.05),
    },
    # both right, both short, fast one short, slow one over, twice, another ratio, nothing
    "draw": {
        "sound": (0.96, 0.012, 0.006, 0.012, 0.002, 0.006, 0.002),
        "dead_input": (0.01, 0.005, 0.005, 0.0, 0.0, 0.0, 0.98),
        "lost_counts": (0.08, 0.42, 0.45, 0.01, 0.0, 0.02, 0.02),
        "intermittent": (0.45, 0.30, 0.10, 0.0, 0.0, 0.0, 0.15),
        "double_count": (0.005, 0.0, 0.0, 0.01, 0.965, 0.02, 0.0),
        "extra_counts": (0.10, 0.0, 0.0, 0.82, 0.05, 0.03, 0.0),
        "wet_counts": (0.75, 0.0, 0.0, 0.24, 0.005, 0.005, 0.0),
        "steady_counts": (0.15, 0.0, 0.0, 0.83, 0.01, 0.01, 0.0),
        "weight_decade": (0.003, 0.003, 0.0, 0.0, 0.002, 0.99, 0.002),
        "unit_slip": (0.005, 0.003, 0.0, 0.0, 0.002, 0.988, 0.002),
        "register_mismatch": (0.96, 0.012, 0.006, 0.012, 0.002, 0.006, 0.002),
        "crossed": (0.02, 0.005, 0.005, 0.005, 0.0, 0.02, 0.945),
        "ports_swapped": (0.02, 0.02, 0.02, 0.02, 0.0, 0.32, 0.60),
        "port_unread": (0.10, 0.10, 0.30, 0.0, 0.0, 0.0, 0.50),
        "meter_reversed": (0.02, 0.0, 0.0, 0.0, 0.0, 0.96, 0.02),
        "backflow_counted": (0.85, 0.0, 0.0, 0.14, 0.0, 0.01, 0.0),
        "index_reset": (0.88, 0.02, 0.02, 0.0, 0.0, 0.0, 0.08),
        "not_listed": (0.60, 0.08, 0.06, 0.08, 0.04, 0.08, 0.06),
    },
    # its own index, the other index
    "draw_watch_both": {
        "sound": (0.995, 0.005),
        "crossed": (0.02, 0.98),
        "ports_swapped": (0.02, 0.98),
        "duplicate_serial": (0.40, 0.60),
        "not_listed": (0.90, 0.10),
    },
    # dial right, dial wrong
    "known_volume": {
        "sound": (0.985, 0.015),
        "register_mismatch": (0.02, 0.98),
        "not_listed": (0.90, 0.10),
    },
}


def _table(name: str) -> Floats:
    rows = OUTCOMES[name]
    table = np.array([rows.get(code, rows["sound"]) for code in FAULTS])
    # No outcome is impossible under any fault: a look may be taken wrongly (our assumption: once in 500).
    table = table + 0.002
    return table / table.sum(axis=1, keepdims=True)


CHANCE: Final[dict[str, Floats]] = {name: _table(name) for name in LOOKS}
"""P(outcome given fault), (n_faults, outcomes), rows sum to 1, by name of the look."""

SHARE: Final[dict[str, float]] = {
    "dead_input": -1.0, "lost_counts": -0.25, "double_count": 1.0, "extra_counts": 0.25, "wet_counts": 0.3,
    "steady_counts": 0.5, "intermittent": -0.3, "weight_decade": 1.0, "unit_slip": 0.8, "crossed": 0.5,
    "ports_swapped": 0.2, "duplicate_serial": 0.5, "backflow_counted": 0.15, "meter_reversed": 1.0,
    "port_unread": -1.0, "register_mismatch": 0.3, "not_listed": 0.3,
}  # fmt: skip
"""Usual error of the count as a share of use, signed: over is positive. Our assumption; the port's own estimate takes
its place where the fault is named."""
SHARES: Final[Floats] = np.array([SHARE.get(code, 0.0) for code in FAULTS])
INNOCENTS: Final[tuple[int, ...]] = tuple(COLUMN[code] for code in sorted(INNOCENT))


def photo_power(volume_l: Floats, grain_l: Floats) -> Floats:
    """Return how surely a photograph now shows the usual error of each fault.

    Parameters
    ----------
    volume_l, grain_l : float64, shape (n,)
        Volume passed since dial and index last agreed, and one pulse with one reading step. [L]

    Returns
    -------
    float64, shape (n, n_faults)
        1 where the look does not depend on volume. [-, 0 to 1]

    Raises
    ------
    Never raises.

    Source
    ------
    A healthy pair lies within one pulse and one reading step (arithmetic); an error of three of them is seen almost
    surely (our assumption: 1 - exp(-(e / 2 g)^2)).
    """
    error = np.abs(SHARES)[None, :] * np.maximum(volume_l, 0.0)[:, None]
    seen = 1.0 - np.exp(-((error / (2.0 * np.maximum(grain_l, 1e-9)[:, None])) ** 2))
    return np.where(SHARES == 0.0, 1.0, seen)
