"""What a spreadsheet would hold of each fitted port: the figures that both peers judge by.

Nothing here comes from the watch itself: tables are read as plain text, volumes are floats.
"""

from __future__ import annotations

import csv
import datetime as dt
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

LITRES = {
    "L": 1.0, "m3": 1000.0, "gal": 3.785411784, "gal_imp": 4.54609, "ft3": 28.316846592, "ccf": 2831.6846592,
    "kgal": 3785.411784, "acre_ft": 1233481.83754752,
}  # fmt: skip
MAX_L_H = {
    "5/8in": 4543, "3/4in": 6814, "1in": 11356, "1-1/2in": 22712, "2in": 36340, "3in": 68137, "4in": 113562,
    "6in": 227125, "DN15": 3125, "DN20": 5000, "DN25": 7875, "DN40": 20000, "DN50": 31250, "DN80": 78750,
    "DN100": 125000, "DN150": 312500,
}  # fmt: skip
"""Safe maximum flow by size. [L/h; source US-FLOW-LIMITS and OIML-R49]"""
HOUR_S, DAY_S = 3600.0, 86400.0


@dataclass(slots=True)
class PortFigures:
    """One fitted port. Volumes in litres, times in seconds since 1970; NaN where the files say nothing."""

    meter: str
    endpoint: str
    port: int
    role: str
    fitter: str
    fit_day: int
    weight_ratio: float
    start_offset_l: float
    grain_l: float
    max_l_h: float
    history_l_day: float = float("nan")
    at_s: np.ndarray = field(default_factory=lambda: np.empty(0))
    steps_l: np.ndarray = field(default_factory=lambda: np.empty(0))
    index_l: np.ndarray = field(default_factory=lambda: np.empty(0))
    falls: int = 0
    fall_to_start: bool = False
    fall_power: bool = False
    looks: list[tuple[float, float, float]] = field(default_factory=list)
    use_l_day: float = float("nan")
    wet_over_dry: float = float("nan")
    rivals: int = 0
    even: bool = False

    def ratio(self) -> float:
        """Change of index over change of dial from the fitting to the last look; NaN without one."""
        far = [(dial, index) for _, dial, index in self.looks if abs(dial) > 20 * self.grain_l]
        return far[-1][1] / far[-1][0] if far else float("nan")

    def offsets(self) -> np.ndarray:
        """Index less dial at each look, since the fitting. [L]"""
        return np.array([index - dial for _, dial, index in self.looks])


def port_figures(folder: Path) -> list[PortFigures]:
    """Read a programme folder into one row of figures a fitted port."""
    sites = {(row["meter_serial"], row.get("register_role") or "single"): row for row in _csv(folder / "sites.csv")}
    fittings = _csv(folder / "fittings.csv")
    channels = _reads(folder / "reads.parquet")
    looks: dict[tuple[str, str], list[tuple[float, str]]] = defaultdict(list)
    for row in _csv(folder / "dial_reads.csv"):
        if row["source"] != "fitter":
            looks[(row["meter_serial"], row.get("register_role") or "single")].append((_time(row["at"]), row["dial"]))
    history: dict[tuple[str, str], list[float]] = defaultdict(list)
    for row in _csv(folder / "use_history.csv"):
        days = (dt.date.fromisoformat(row["end"]) - dt.date.fromisoformat(row["start"])).days
        if days > 0 and (row.get("estimated") or "").lower() != "true":
            name = (row["meter_serial"], row.get("register_role") or "single")
            history[name].append(float(row["volume"]) * LITRES[row["unit"]] / days)
    rain = {int(_time(row["at"]) // HOUR_S): float(row["rain_mm"] or 0) for row in _csv(folder / "weather.csv")}
    same = defaultdict(int)
    for row in fittings:
        same[(row["endpoint_serial"], row["port"])] += not row.get("removed_at")
    out = []
    for row in fittings:
        name = (row["meter_serial"], row.get("register_role") or "single")
        site = sites[name]
        figures = _figures(row, site, channels.get((row["endpoint_serial"], int(row["port"] or 1))), looks[name], rain)
        past = history.get(name, [])
        figures.history_l_day = float(np.mean(past[-12:])) if past else float("nan")
        figures.rivals = same[(row["endpoint_serial"], row["port"])] - 1
        out.append(figures)
    return out


def _csv(path: Path) -> list[dict[str, str]]:
    if not path.exists():
        return []
    with path.open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


def _time(text: str) -> float:
    return dt.datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp()


def _reads(path: Path) -> dict[tuple[str, int], tuple[np.ndarray, np.ndarray]]:
    """Return time [s] and index of each endpoint and port, in order of time, without estimates."""
    table = pq.read_table(path, columns=["endpoint_serial", "port", "at", "index", "flag"])
    table = table.filter(pc.not_equal(pc.fill_null(table["flag"], ""), "estimated"))
    coded = pc.dictionary_encode(table["endpoint_serial"].combine_chunks())
    code = coded.indices.to_numpy(zero_copy_only=False).astype(np.int64)
    port = table["port"].to_numpy().astype(np.int64)
    at = table["at"].cast(pa.timestamp("us", tz="UTC")).cast(pa.int64()).to_numpy() / 1e6
    index = table["index"].to_numpy().astype(np.float64)
    order = np.lexsort((at, code * 100 + port))
    key = (code * 100 + port)[order]
    names = coded.dictionary.to_pylist()
    cuts = np.flatnonzero(np.diff(key)) + 1
    out = {}
    for rows in np.split(order, cuts):
        if len(rows):
            out[(names[code[rows[0]]], int(port[rows[0]]))] = (at[rows], index[rows])
    return out


def _figures(
    row: dict[str, str],
    site: dict[str, str],
    reads: tuple[np.ndarray, np.ndarray] | None,
    looks: list[tuple[float, str]],
    rain: dict[int, float],
) -> PortFigures:
    dial_step = (
        float(site.get("dial_resolution") or 10 ** int(site.get("fixed_zeros") or 0)) * LITRES[site["dial_unit"]]
    )
    zeros = int(site.get("fixed_zeros") or 0)
    dial_capacity = dial_step * 10 ** int(site["dial_digits"])
    weight_site = float(site["pulse_weight"]) * LITRES[site["pulse_unit"]]
    weight_set = float(row["weight_set"]) * LITRES[row["weight_unit"]]
    index_step = float(row["index_resolution"]) * LITRES[row["index_unit"]]
    capacity = index_step * 10 ** int(row["index_digits"])

    def dial_l(text: str) -> float:
        return int(text[: len(text) - zeros] or 0) * dial_step

    fit_s = _time(row["fitted_at"])
    dial_fit = dial_l(row["dial_at_fit"])
    start = int(row["start_index"]) * index_step
    offset = (start - dial_fit + capacity / 2) % min(capacity, dial_capacity) - min(capacity, dial_capacity) / 2
    offset = start - dial_fit % capacity if abs(start - dial_fit % capacity) < abs(offset) else offset
    out = PortFigures(
        row["meter_serial"], row["endpoint_serial"], int(row["port"] or 1), row.get("register_role") or "single",
        row.get("fitter", ""), int(fit_s // DAY_S), weight_set / weight_site, offset,
        weight_site + dial_step + index_step, MAX_L_H.get(site["meter_size"], float("inf")),
    )  # fmt: skip
    if reads is None:
        return out
    until = _time(row["removed_at"]) if row.get("removed_at") else float("inf")
    inside = (reads[0] >= fit_s - HOUR_S) & (reads[0] < until)
    at, index = reads[0][inside], reads[1][inside] * index_step
    if len(at) < 2:
        return out
    step = np.diff(index)
    whole = np.diff(reads[1][inside])
    moved = whole[whole > 0]
    out.even = bool(len(moved) > 20 and weight_set <= index_step * 1.01 and (moved % 2 == 0).all())
    down = step < -0.5 * index_step
    rolled = down & (index[:-1] > 0.9 * capacity) & (index[1:] < 0.1 * capacity)
    out.falls = int((down & ~rolled).sum())
    if out.falls:
        first = int(np.flatnonzero(down & ~rolled)[0])
        out.fall_to_start = (
            abs(index[first + 1] - start) < 0.02 * max(capacity, 1) or index[first + 1] < 50 * index_step
        )
        lost = -step[first] / index_step
        out.fall_power = any(abs(lost / (base**power) - 1) < 0.02 for base in (2, 10) for power in range(4, 25))
    step = np.where(rolled, step + capacity, step)
    step = np.where(down & ~rolled, 0.0, step)
    out.at_s, out.steps_l = at, step
    out.index_l = np.concatenate(([0.0], np.cumsum(step)))
    span = (at[-1] - at[0]) / DAY_S
    out.use_l_day = out.index_l[-1] / span if span > 1 else float("nan")
    first_gap = (index[0] - start % capacity) % capacity
    lead = first_gap if first_gap < capacity / 2 else 0.0
    for look_s, text in sorted(looks):
        if at[0] <= look_s <= at[-1]:
            moved_dial = (dial_l(text) - dial_fit) % dial_capacity
            if moved_dial > dial_capacity / 2:
                moved_dial -= dial_capacity
            out.looks.append((look_s, moved_dial, float(np.interp(look_s, at, out.index_l)) + lead))
    _wet(out, rain)
    return out


def _wet(out: PortFigures, rain: dict[int, float]) -> None:
    """Counts of wet days over dry days, by the rain of the day and the day before."""
    day = (out.at_s[1:] // DAY_S).astype(int)
    wet_by_day = defaultdict(float)
    for hour, fell in rain.items():
        wet_by_day[int(hour // 24)] += fell
    use = np.bincount(day - day.min(), weights=out.steps_l) if len(day) else np.empty(0)
    wet = (
        np.array([wet_by_day[d] + wet_by_day[d - 1] > 4 for d in range(day.min(), day.min() + len(use))])
        if len(day)
        else use
    )
    if len(use) > 20 and 4 < wet.sum() < len(use) - 4:
        out.wet_over_dry = float((np.median(use[wet]) + out.grain_l) / (np.median(use[~wet]) + out.grain_l))
