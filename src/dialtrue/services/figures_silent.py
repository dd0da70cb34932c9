"""Ports without a fresh read, each with the next step that its record, its alarms and its neighbours suggest."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

from dialtrue.domain.contracts import ALARMS
from dialtrue.domain.near_serials import near_serials
from dialtrue.domain.progress.settings import FiguresSettings
from dialtrue.domain.progress.silent import STEP_TITLES, SilentPort, SilentSigns, next_step
from dialtrue.services.figures_jobs import Job
from dialtrue.services.figures_watch import Watched

_LOW = ALARMS.index("low_battery")
METRES_A_DEGREE = 111_195.0
"""Of latitude, on a sphere of the earth's mean radius. [m] Definition of that sphere."""
_MOST_STRANGERS = 20_000
"""Endpoints heard without a fitting beyond which serials are not compared: the fittings are then what is missing."""


def silent_ports(
    jobs: Sequence[Job], quiet: Sequence[Job], look: Watched, settings: FiguresSettings
) -> list[SilentPort]:
    """Return the silent ports in the order of the steps, then of area and site.

    Parameters
    ----------
    jobs : sequence of Job
        Every port that is fitted now.
    quiet : sequence of Job
        Those of them without a fresh read.
    look : Watched
    settings : FiguresSettings

    Returns
    -------
    list of SilentPort

    Raises
    ------
    Never raises.

    Source
    ------
    ``domain.progress.silent``. Around a port is what lies within ``near_m`` of it, taken in squares of that side; where
    no place is known, its area or street.
    """
    of_serial: dict[tuple[str, int], list[Job]] = {}
    ports: dict[str, list[Job]] = {}
    for job in jobs:
        of_serial.setdefault((job.key[1], job.key[2]), []).append(job)
        ports.setdefault(job.key[1], []).append(job)
    strangers = sorted({serial for serial, _ in look.heard})
    strangers = strangers if len(strangers) <= _MOST_STRANGERS else []
    silent = {id(job) for job in quiet}
    around = _Around(jobs, look, settings.near_m, silent)
    listed = []
    for job in quiet:
        meter, endpoint, port, role = job.key
        others = tuple(dict.fromkeys(o.key[0] for o in of_serial[endpoint, port] if o.register != job.register))
        heard = [o.key[2] for o in ports[endpoint] if o.key[2] != port and id(o) not in silent]
        near_silent, near_all = around.of(job)
        signs = SilentSigns(
            job.last_heard, bool(look.alarms[job.row, _LOW]), others,
            near_serials(endpoint, strangers, most=3) if job.last_heard is None and strangers else (),
            min(heard) if heard else None, near_silent, near_all,
        )  # fmt: skip
        step, says = next_step(signs, cluster=settings.cluster)
        listed.append(
            SilentPort(job.site, job.area, meter, role, endpoint, port, job.fitted_at, job.last_heard, step, says)
        )
    order = list(STEP_TITLES)
    return sorted(listed, key=lambda each: (order.index(each.step), each.area, each.site, each.meter_serial, each.port))


class _Around:
    """Counts endpoints, silent ones and all, around a port."""

    def __init__(self, jobs: Sequence[Job], look: Watched, near_m: float, silent: set[int]) -> None:
        self._near_m, self._look = near_m, look
        self._all: dict[object, set[str]] = {}
        self._heard: dict[object, set[str]] = {}
        for job in jobs:
            cell = self._cell(job)
            if cell is not None:
                self._all.setdefault(cell, set()).add(job.key[1])
                if id(job) not in silent:
                    self._heard.setdefault(cell, set()).add(job.key[1])

    def of(self, job: Job) -> tuple[int, int]:
        """Return how many endpoints around it are silent, and how many there are."""
        cell = self._cell(job)
        if cell is None:
            return 0, 0
        cells: list[object] = [cell]
        if isinstance(cell, tuple):
            cells = [(cell[0] + x, cell[1] + y) for x in (-1, 0, 1) for y in (-1, 0, 1)]
        every = set().union(*(self._all.get(each, set()) for each in cells))
        heard = set().union(*(self._heard.get(each, set()) for each in cells))
        return len(every - heard), len(every)

    def _cell(self, job: Job) -> tuple[int, int] | str | None:
        site = self._look.records.site_rows[job.row] or {}
        latitude, longitude = site.get("latitude"), site.get("longitude")
        if latitude is None or longitude is None:
            return job.area or None
        east = longitude * METRES_A_DEGREE * math.cos(math.radians(round(latitude, 1)))
        return math.floor(latitude * METRES_A_DEGREE / self._near_m), math.floor(east / self._near_m)


def fresh_at(job: Job, moment: dt.datetime, days: int) -> bool:
    """Tell whether a port's last read is no older than so many days. Never raises."""
    return job.last_heard is not None and job.last_heard >= moment - dt.timedelta(days=days)
