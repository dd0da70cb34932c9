"""A whole invented town: plan in, contract tables and their truth out. The same plan gives the same tables."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pyarrow as pa

from dialtrue.domain.errors import BadTownPlan
from dialtrue.domain.faults import FAULTS
from dialtrue.engine.simulation.demand import Calendar, calendar_over
from dialtrue.engine.simulation.dial_rounds import DIAL_ROUNDS, DialRounds
from dialtrue.engine.simulation.fates import DEFAULT_MIX, ONSET_SPAN, draw_fates
from dialtrue.engine.simulation.places import RegisterSpec, town_registers
from dialtrue.engine.simulation.port import SOUND, Fate
from dialtrue.engine.simulation.reading_plan import Window
from dialtrue.engine.simulation.records import Rows, contract_table, label_table, reads_table
from dialtrue.engine.simulation.site import run_group
from dialtrue.engine.simulation.sky import DAY_S, Sky, sky_over
from dialtrue.engine.simulation.work_plan import working_days

READ_EVERY_S = {"hourly": 3600, "daily": 86_400, "monthly": 2_592_000}
"""Time between two reads by its name. [s]"""
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_HISTORY_DAYS = 760
ZONES = {"us": ("America/Chicago", -6), "mixed": ("America/Chicago", -6), "metric": ("Europe/Berlin", 1)}
Progress = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True)
class TownPlan:
    """What town to build.

    Parameters
    ----------
    seed : int
        The same plan and seed give the same tables, byte for byte. [>= 0]
    registers : int
        Registers in the town; a compound meter has two. [10 to 1 000 000]
    days : int
        Length of the window that the reads cover. [14 to 1000 days]
    start : datetime
        Begin of the window, aware.
    fault_share : float
        Share of registers with a code other than ``sound``; where ``innocent_share`` is given, with a fault. [0, 1]
    innocent_share : float or None
        Share of registers with an innocent cause (leak, nobody there, changed use). None: they stand in the mix of
        ``fault_share``. [0, 1]
    units : str
        ``us``, ``metric`` or ``mixed`` (street by street).
    read_interval_s : int
        Time between two reads, see ``READ_EVERY_S``; from 20 days on they are taken on rounds. [900 to 2 678 400 s]
    dial_reads : str
        ``dense``: about monthly on nearly every register; ``sparse``: once, on a share of them; ``share``: once, 25 to
        45 days after the fitting, on ``dial_read_share``.
    dial_read_share : float
        Share of registers whose dial is read again, for ``share``. [0, 1]
    oddity_share : float
        Share of sites with a sound habit or accident that imitates a fault (``oddities``). [0, 1]
    as_received : bool
        Reads stand in the order in which they were received, all ports mixed; else port after port.
    onset_span : tuple of two floats
        Where in the window a fate may begin that does not hold from the fitting. [0 to 1]
    faults : mapping of fault code to weight, or None
        Mix of the faults; None takes ``fates.DEFAULT_MIX``.

    Raises
    ------
    BadTownPlan
        A value lies outside its range, or a code is not in the catalogue.

    Source
    ------
    Our assumption throughout: it plans an invented town.
    """

    seed: int
    registers: int = 1200
    days: int = 90
    start: dt.datetime = dt.datetime(2025, 5, 5, 5, tzinfo=dt.UTC)
    fault_share: float = 0.12
    units: Literal["us", "metric", "mixed"] = "us"
    read_interval_s: int = 3600
    dial_read_share: float = 0.8
    faults: Mapping[str, float] | None = None
    innocent_share: float | None = None
    dial_reads: Literal["share", "dense", "sparse"] = "share"
    onset_span: tuple[float, float] = ONSET_SPAN
    oddity_share: float = 0.3
    as_received: bool = False

    def __post_init__(self) -> None:
        for name, low, high in (
            ("seed", 0, 2**63), ("registers", 10, 1_000_000), ("days", 14, 1000), ("fault_share", 0, 1),
            ("read_interval_s", 900, 2_678_400), ("dial_read_share", 0, 1), ("oddity_share", 0, 1),
        ):  # fmt: skip
            value = getattr(self, name)
            if not low <= value <= high:
                raise BadTownPlan(name=name, value=value, form=f"a number from {low} to {high}")
        if self.innocent_share is not None and not 0 <= self.innocent_share <= 1 - self.fault_share:
            form = "none, or a number from 0 to what the fault share leaves"
            raise BadTownPlan(name="innocent_share", value=self.innocent_share, form=form)
        if self.dial_reads not in DIAL_ROUNDS:
            raise BadTownPlan(name="dial_reads", value=self.dial_reads, form="share, dense or sparse")
        if not 0 <= self.onset_span[0] <= self.onset_span[1] <= 1:
            raise BadTownPlan(name="onset_span", value=self.onset_span, form="two numbers from 0 to 1 that do not fall")
        if self.units not in ZONES:
            raise BadTownPlan(name="units", value=self.units, form="us, metric or mixed")
        if self.start.tzinfo is None:
            raise BadTownPlan(name="start", value=self.start, form="a time with its zone")
        for code, weight in (self.faults or {}).items():
            if code not in DEFAULT_MIX or weight < 0:
                known = ", ".join(code for code in FAULTS if code in DEFAULT_MIX)
                raise BadTownPlan(name="faults", value=f"{code}: {weight}", form=f"weights from 0 up for {known}")

    @property
    def start_s(self) -> int:
        """Begin of the window. [s since 1970]"""
        return int((self.start - _EPOCH).total_seconds())

    @property
    def end_s(self) -> int:
        """End of the window. [s since 1970]"""
        return self.start_s + self.days * DAY_S

    @property
    def timezone(self) -> str:
        """The town's clock, as an IANA name."""
        return ZONES[self.units][0]


@dataclass(frozen=True, slots=True)
class Town:
    """The tables of a programme, and apart from them the truth (``labels``, ``crossings_truth``)."""

    plan: TownPlan
    sites: pa.Table
    fittings: pa.Table
    dial_reads: pa.Table
    reads: pa.Table
    alarms: pa.Table
    weather: pa.Table
    use_history: pa.Table
    labels: pa.Table
    crossings_truth: pa.Table


def build_town(plan: TownPlan, *, progress: Progress | None = None) -> Town:
    """Build a town and run it.

    Parameters
    ----------
    plan : TownPlan
    progress : callable, optional
        Called as ``progress(done, total, what)`` with registers done.

    Returns
    -------
    Town

    Raises
    ------
    Never raises for a valid plan.

    Notes
    -----
    Each register has a seed of its own, so that no register's water depends on another's.

    Source
    ------
    Event-level model of demand, dial, pulses, index and delivery; each part names its sources.
    """
    zone, offset_h = ZONES[plan.units]
    first_date, fit_days = working_days(plan.start.astimezone(dt.UTC), plan.days)
    history_date = first_date - dt.timedelta(days=_HISTORY_DAYS)
    last = plan.start + dt.timedelta(days=plan.days + 2)
    begin = dt.datetime(history_date.year, history_date.month, history_date.day, tzinfo=dt.UTC) - dt.timedelta(days=1)
    sky = sky_over(begin, last.astimezone(dt.UTC), utc_offset_h=offset_h)
    calendar = calendar_over(history_date, (last.date() - history_date).days, zone=zone, sky=sky)
    whole, *seeds = np.random.SeedSequence(plan.seed).spawn(plan.registers + 1)
    town_rng, fate_rng = (np.random.default_rng(seed) for seed in whole.spawn(2))
    specs = _registers(plan, seeds, town_rng, calendar, first_date, fit_days)
    mix = DEFAULT_MIX if plan.faults is None else plan.faults
    fates = draw_fates(
        fate_rng,
        specs,
        fault_share=plan.fault_share,
        innocent_share=plan.innocent_share,
        mix=mix,
        start_s=plan.start_s,
        end_s=plan.end_s,
        onset_span=plan.onset_span,
    )
    rounds = DIAL_ROUNDS[plan.dial_reads] or DialRounds(plan.dial_read_share)
    window = Window(plan.start_s, plan.end_s, plan.read_interval_s, rounds)
    rows = _run(specs, fates, seeds, calendar, sky, window, progress)
    return Town(
        plan=plan,
        sites=contract_table("sites", rows.sites),
        fittings=contract_table("fittings", rows.fittings),
        dial_reads=contract_table("dial_reads", rows.dial_reads),
        reads=reads_table(rows.reads, as_received=plan.as_received),
        alarms=contract_table("alarms", rows.alarms),
        weather=_weather_table(sky, plan),
        use_history=contract_table("use_history", rows.use_history),
        labels=label_table(rows.labels),
        crossings_truth=contract_table("crossings", rows.crossings),
    )


def _registers(
    plan: TownPlan,
    seeds: list[np.random.SeedSequence],
    rng: np.random.Generator,
    calendar: Calendar,
    first_date: dt.date,
    fit_days: int,
) -> list[RegisterSpec]:
    """Lay out the town's registers; crews fit them before and in the first weeks of the window."""
    first = int(
        np.searchsorted(calendar.midnight_s, int((_midnight(first_date) - _EPOCH).total_seconds()) - DAY_S // 2)
    )
    span = slice(first, first + fit_days)
    return town_registers(
        seeds,
        town_rng=rng,
        units=plan.units,
        fit_midnight_s=calendar.midnight_s[span],
        fit_weekday=calendar.weekday[span],
        days=plan.days,
        read_interval_s=plan.read_interval_s,
        oddity_share=plan.oddity_share,
    )


def _midnight(day: dt.date) -> dt.datetime:
    return dt.datetime(day.year, day.month, day.day, tzinfo=dt.UTC)


def _run(
    specs: list[RegisterSpec],
    fates: dict[int, Fate],
    seeds: list[np.random.SeedSequence],
    calendar: Calendar,
    sky: Sky,
    window: Window,
    progress: Progress | None,
) -> Rows:
    """Run group after group: a register alone, the two of a compound meter, or those that share a fate."""
    rows = Rows()
    done: set[int] = set()
    previous: dict[str, RegisterSpec] = {}
    for spec in specs:
        if spec.number in done:
            continue
        fate = fates.get(spec.number, SOUND)
        members = [spec.number]
        if spec.role == "high":
            members = [spec.number, spec.number + 1]
        elif fate.partners:
            members = list(fate.partners)
        group = [specs[number] for number in members]
        run_group(
            rows,
            group,
            [fates.get(number, SOUND) for number in members],
            [seeds[number] for number in members],
            calendar=calendar,
            sky=sky,
            window=window,
            previous=previous.get(spec.fitter),
        )
        previous[spec.fitter] = spec
        done.update(members)
        if progress is not None:
            progress(len(done), len(specs), "registers")
    return rows


def _weather_table(sky: Sky, plan: TownPlan) -> pa.Table:
    """Return the hourly weather from a month before the window to its end, as one station's table."""
    inside = (sky.hour_s >= plan.start_s - 30 * DAY_S) & (sky.hour_s < plan.end_s)
    at = pa.array(sky.hour_s[inside].astype("datetime64[s]"), pa.timestamp("s")).cast(pa.timestamp("us", tz="UTC"))
    return pa.table({"at": at, "rain_mm": sky.rain_mm[inside], "temp_c": sky.temp_c[inside]})
