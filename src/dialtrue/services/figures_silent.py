"""Ports without a fresh read, each with the next step that its record, its alarms and its neighbours suggest."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

import numpy as np

from dialtrue.domain.contracts import ALARMS
from dialtrue.domain.near_serials import near_serials
from dialtrue.domain.progress.settings import FiguresSettings
from dialtrue.domain.progress.silent import STEP_TITLES, SilentPort, SilentSigns, next_step
from dialtrue.services.figures_jobs import Job
from dialtrue.services.figures_watch import Watched

_LOW = ALARMS.index("low_battery")
METRES_A_DEGREE = 111_195.0
"""Of latitude, on a sphere of the earth's mean radius. [m] Definition of that sphere."""
NEAREST = 9
"""Endpoints that are looked at around a silent one, itself among them. Our assumption: what one collector or one side
of a street loses. [endpoints]"""
BESIDE = 3
"""So many of them stand beside it: the last house of a silent row belongs to the row. Our assumption. [endpoints]"""
_NONE = np.zeros(0, np.int64)
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
    ``domain.progress.silent``. Around a port are the nearest ``NEAREST`` endpoints within ``near_m`` of it; where no
    place is known, those of its area or street.
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
    near = {job.key[1]: around.of(job) for job in quiet}
    cores = {
        serial: (n, of) for serial, (n, of, _) in near.items() if n >= settings.cluster and 2 * n >= of
    }  # fmt: skip
    listed = []
    for job in quiet:
        meter, endpoint, port, role = job.key
        others = tuple(dict.fromkeys(o.key[0] for o in of_serial[endpoint, port] if o.register != job.register))
        heard = [o.key[2] for o in ports[endpoint] if o.key[2] != port and id(o) not in silent]
        near_silent, near_all, beside = near[endpoint]
        if endpoint not in cores:
            near_silent, near_all = next((cores[each] for each in beside if each in cores), (near_silent, near_all))
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
    """Counts endpoints, silent ones and all, around a port: the nearest few where places are known, else its area's."""

    def __init__(self, jobs: Sequence[Job], look: Watched, near_m: float, silent: set[int]) -> None:
        self._near_m, self._look = near_m, look
        heard = {job.key[1] for job in jobs if id(job) not in silent}
        self._areas: dict[str, dict[str, bool]] = {}
        places: dict[str, tuple[float, float]] = {}
        for job in jobs:
            place = self._place(job)
            if place is not None:
                places[job.key[1]] = place
            elif job.area:
                self._areas.setdefault(job.area, {})[job.key[1]] = job.key[1] not in heard
        self._serials = list(places)
        self._where = np.array(list(places.values()), np.float64).reshape(-1, 2)
        self._silent = np.array([serial not in heard for serial in places], bool)
        cells: dict[tuple[int, int], list[int]] = {}
        for number, (x, y) in enumerate(places.values()):
            cells.setdefault(self._cell(x, y), []).append(number)
        self._cells = {cell: np.array(numbers, np.int64) for cell, numbers in cells.items()}

    def of(self, job: Job) -> tuple[int, int, list[str]]:
        """Return how many endpoints around it are silent, how many there are, itself among them, and who is beside."""
        place = self._place(job)
        if place is None:
            around = self._areas.get(job.area, {})
            return sum(around.values()), len(around), []
        column, row = self._cell(*place)
        numbers = np.concatenate(
            [self._cells.get((column + x, row + y), _NONE) for x in (-1, 0, 1) for y in (-1, 0, 1)]
        )  # fmt: skip
        apart = np.hypot(*(self._where[numbers] - place).T)
        nearest = np.argsort(apart, kind="stable")[:NEAREST]
        nearest = nearest[apart[nearest] <= self._near_m]
        beside = [self._serials[k] for k in numbers[nearest[: BESIDE + 1]].tolist()]
        return int(self._silent[numbers[nearest]].sum()), len(nearest), beside

    def _cell(self, x: float, y: float) -> tuple[int, int]:
        return math.floor(x / self._near_m), math.floor(y / self._near_m)

    def _place(self, job: Job) -> tuple[float, float] | None:
        """Return metres to the east and to the north, None where the place is not known."""
        site = self._look.records.site_rows[job.row] or {}
        latitude, longitude = site.get("latitude"), site.get("longitude")
        if latitude is None or longitude is None:
            return None
        # One parallel for a whole tenth of a degree: neighbours are laid out alike.
        shrink = math.cos(math.radians(round(latitude, 1)))
        return longitude * METRES_A_DEGREE * shrink, latitude * METRES_A_DEGREE


def fresh_at(job: Job, moment: dt.datetime, days: int) -> bool:
    """Tell whether a port's last read is no older than so many days. Never raises."""
    return job.last_heard is not None and job.last_heard >= moment - dt.timedelta(days=days)
