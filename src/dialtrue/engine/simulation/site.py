"""One site, or the few that share a fate, run from water to rows."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import lru_cache

import numpy as np

from dialtrue.engine.simulation import false_counts, keying, upsets, wiring
from dialtrue.engine.simulation.association import (
    Tie,
    cross_counts,
    split_at_exchange,
    straight_ties,
    tie_crossed,
    tie_duplicate,
    tie_unread,
)
from dialtrue.engine.simulation.customers import billed_history, use_of_site
from dialtrue.engine.simulation.delivery import SUMMER_TIME, deliver
from dialtrue.engine.simulation.demand import Calendar, UseCurve
from dialtrue.engine.simulation.places import RegisterSpec
from dialtrue.engine.simulation.port import SOUND, Fate, Port
from dialtrue.engine.simulation.reading_plan import Window, latch_marks
from dialtrue.engine.simulation.records import Rows, dial_rows, fitting_row, label_row, site_row, stamp
from dialtrue.engine.simulation.sky import DAY_S, HOUR_S, Sky

SETTING_FAULTS = {
    "weight_decade": keying.weight_decade,
    "unit_slip": keying.unit_slip,
    "digit_slip": keying.digit_slip,
}
COUNT_FAULTS = {
    "dead_input": wiring.dead_input,
    "lost_counts": wiring.lost_counts,
    "double_count": wiring.double_count,
    "extra_counts": wiring.extra_counts,
    "wet_counts": false_counts.wet_counts,
    "steady_counts": false_counts.steady_counts,
    "intermittent": wiring.intermittent,
    "backflow_counted": wiring.backflow_counted,
    "meter_reversed": wiring.meter_reversed,
    "meter_exchanged": upsets.meter_exchanged,
}
INDEX_FAULTS = {"index_reset": upsets.index_reset}
# A new fault of setting, count or index: write its function and name it in one of these three tables.


CARRIED_FROM = 0.85
"""Severity from which a wrong start is that of a replaced endpoint, carried over from the old one. Our assumption."""
SUMMER_TIME_BELOW = 0.4
"""Severity below which a wrong clock has missed the change of summer time, where there is one. Our assumption."""
RESTS_DAYS = 21
"""Days without water up to the end from which a garden's register is said to have no use. Our assumption."""


def run_group(
    rows: Rows,
    specs: list[RegisterSpec],
    fates: list[Fate],
    seeds: list[np.random.SeedSequence],
    *,
    calendar: Calendar,
    sky: Sky,
    window: Window,
    previous: RegisterSpec | None,
) -> None:
    """Run registers that must be run together and add their rows.

    Parameters
    ----------
    rows : Rows
        Added to.
    specs, fates, seeds : lists of one length
        A register alone, high and low of a compound meter, or those of one ring.
    calendar, sky, window
        The town's days, weather and reading plan.
    previous : RegisterSpec or None
        The crew's job before, for whoever clones its settings.

    Returns
    -------
    None

    Raises
    ------
    Never raises.

    Source
    ------
    The steps are the chain itself: water, dial, pulses, counter, delivery, records.
    """
    streams = [[np.random.default_rng(child) for child in seed.spawn(6)] for seed in seeds]
    ports = _ports(specs, fates, streams, calendar, sky, window)
    for port, stream in zip(ports, streams, strict=True):
        _settle_settings(port, stream[2], previous)
        port.count()
        if port.fate.code in COUNT_FAULTS and len(port.marks_s):
            COUNT_FAULTS[port.fate.code](port, stream[3])
    ties, kind = _tie(ports, streams[0][3])
    for port, stream in zip(ports, streams, strict=True):
        port.run_counter()
        if port.fate.export:
            upsets.export_changed(port)
        elif port.fate.code in INDEX_FAULTS:
            INDEX_FAULTS[port.fate.code](port, stream[3])
        if port.fate.code == "digit_slip":
            port.since_s = keying.since_of_digit_slip(port)
    _record(rows, ports, ties, kind, streams, calendar, window)


def _ports(
    specs: list[RegisterSpec],
    fates: list[Fate],
    streams: list[list[np.random.Generator]],
    calendar: Calendar,
    sky: Sky,
    window: Window,
) -> list[Port]:
    """Let the water run and set up one port a register, two where an exchange stands on record."""
    first_s = min(spec.fitted_s for spec in specs) - DAY_S
    marks = [latch_marks(spec, window) for spec in specs]
    fates = [_within(fate, own, spec) for fate, own, spec in zip(fates, marks, specs, strict=True)]
    curves = []
    for place, (spec, fate) in enumerate(zip(specs, fates, strict=True)):
        if spec.role == "low":
            continue
        rng = streams[place][1]
        curves.append(
            use_of_site(rng, spec, fate, calendar, first_s=first_s, start_s=window.start_s, end_s=window.end_s)
        )
    ports: list[Port] = []
    for place, (spec, fate) in enumerate(zip(specs, fates, strict=True)):
        use = curves[0] if spec.role == "low" else curves[min(place, len(curves) - 1)]
        curve = use.curves[1] if spec.role == "low" else use.curves[0]
        if spec.trade == "garden" and fate.code == "sound":
            fate = _resting(curve, spec, window)
        ports.append(
            Port(
                spec, fate, curve, sky, marks[place], window.end_s, spec.setting, spec.setting, spec.dial_ul,
                true_factor=use.true_factor, parameter=use.parameter,
                variant=use.variant or ("out_of_season" if fate.code == "vacant" and spec.trade == "garden" else ""),
            )
        )  # fmt: skip
    for port in ports:
        if port.fate.code == "clock_shift" and port.fate.severity < SUMMER_TIME_BELOW:
            _miss_summer_time(port, calendar, window)
    only = ports[0]
    exchanged = only.fate.code == "sound" and only.spec.exchange
    carried = only.fate.code == "start_slip" and only.fate.severity > CARRIED_FROM
    if len(ports) == 1 and len(only.marks_s) > 8 and (exchanged or carried):
        at_s = int(only.marks_s[0] + streams[0][0].uniform(0.3, 0.7) * (only.marks_s[-1] - only.marks_s[0]))
        ports = list(split_at_exchange(only, streams[0][0], at_s))
        streams.append([streams[0][0]] * len(streams[0]))
    return ports


def _resting(curve: UseCurve, spec: RegisterSpec, window: Window) -> Fate:
    """Return what a garden's register is: sound, or without use since its last watering, where that is long past."""
    ran = np.flatnonzero(np.diff(curve.volume_l) > 0)
    last_s = int(curve.time_s[ran[-1] + 1]) if len(ran) else 0
    since_s = max(last_s, spec.fitted_s)
    return Fate("vacant", since_s, 0.0, (spec.number,)) if window.end_s - since_s > RESTS_DAYS * DAY_S else SOUND


def _miss_summer_time(port: Port, calendar: Calendar, window: Window) -> None:
    """Let a clock go wrong on the day on which the town's clock changes, if the window holds one."""
    length_s = np.diff(calendar.midnight_s)
    inside = (calendar.midnight_s[:-1] > max(window.start_s, port.fitted_s)) & (calendar.midnight_s[:-1] < port.end_s)
    changes = np.flatnonzero((length_s != DAY_S) & inside)
    if len(changes):
        at_s = int(calendar.midnight_s[changes[0]]) + 2 * HOUR_S
        port.fate = replace(port.fate, onset_s=at_s)
        port.variant, port.parameter = SUMMER_TIME, float(length_s[changes[0]] - DAY_S)


def _within(fate: Fate, marks_s: np.ndarray, spec: RegisterSpec) -> Fate:
    """Return the fate, begun before the last read but one: later, no file could hold it."""
    if fate.code == "sound" or len(marks_s) < 2:
        return fate
    return replace(fate, onset_s=max(min(fate.onset_s, int(marks_s[-2]) - 1), spec.fitted_s))


def _settle_settings(port: Port, rng: np.random.Generator, previous: RegisterSpec | None) -> None:
    """Let the fitter set the endpoint, read the dial and key the start."""
    code = port.fate.code
    if code in SETTING_FAULTS and not port.fate.export:
        SETTING_FAULTS[code](port, rng)
    port.read_dial_and_key()
    if code == "start_slip":
        before = None
        if previous is not None:
            dial = int(previous.dial_ul // (previous.face.resolution_l * 1_000_000))
            before = previous.setting.index_of_dial(dial, previous.face)
        keying.start_slip(port, rng, previous_start=before)


def _tie(ports: list[Port], rng: np.random.Generator) -> tuple[list[Tie], str]:
    """Tie ports to records; return the ties and, for a ring, whether wires or records are crossed."""
    codes = [port.fate.code for port in ports]
    if codes[0] == "crossed":
        return tie_crossed(ports, rng)
    if codes[0] == "duplicate_serial":
        return tie_duplicate(ports, rng), ""
    if "port_unread" in codes:
        return tie_unread(ports, codes.index("port_unread"), rng), ""
    if codes[0] == "ports_swapped":
        cross_counts(ports)
        for port in ports:
            port.variant = "ports"
    return straight_ties(ports), ""


def _record(
    rows: Rows,
    ports: list[Port],
    ties: list[Tie],
    kind: str,
    streams: list[list[np.random.Generator]],
    calendar: Calendar,
    window: Window,
) -> None:
    """Deliver the reads and write every row."""
    delivered = [deliver(port, stream[4]) for port, stream in zip(ports, streams, strict=True)]
    ring = 1 + max((row["ring"] for row in rows.crossings), default=0)
    metered: set[tuple[str, str]] = set()
    for place, (port, tie) in enumerate(zip(ports, ties, strict=True)):
        rng = streams[place][5]
        seen, looks = dial_rows(port, rng, rounds=window.rounds)
        rows.dial_reads += seen
        name = (port.spec.meter_serial, port.spec.role)
        if name not in metered:
            metered.add(name)
            rows.sites.append(site_row(port))
            if place == 0 or not port.variant.endswith("exchanged_on_record"):
                rows.use_history += _history(port, calendar, rng)
        if tie.on_record:
            rows.fittings.append(fitting_row(port, tie))
        if tie.sent_as is not None:
            rows.reads.append((tie.sent_as, port.spec.port, delivered[place]))
        rows.labels.append(label_row(port, tie, ports, delivered, looks, interval_s=window.interval_s))
        rows.alarms += _alarms(port, rng)
        if kind:
            rows.crossings.append(
                {
                    "ring": ring, "meter_serial": port.spec.meter_serial, "endpoint_serial": tie.endpoint,
                    "true_endpoint_serial": tie.true_endpoint, "true_port": tie.true_number, "kind": kind,
                    "probability": 1.0,
                }
            )  # fmt: skip


@lru_cache(maxsize=4096)
def _date_of(midnight_s: int) -> dt.date:
    """Return the date whose local midnight this is."""
    day: dt.date = np.datetime64(midnight_s + DAY_S // 2, "s").astype("datetime64[D]").item()
    return day


def _history(port: Port, calendar: Calendar, rng: np.random.Generator) -> list[dict[str, object]]:
    """Return the billed periods of a register before its fitting."""
    return [
        {
            "meter_serial": port.spec.meter_serial, "register_role": port.spec.role,
            "start": _date_of(first_s),
            "end": _date_of(last_s),
            "volume": volume, "unit": port.spec.face.unit, "estimated": estimated,
        }
        for first_s, last_s, volume, estimated in billed_history(rng, port.spec, calendar)
    ]  # fmt: skip


def _alarms(port: Port, rng: np.random.Generator) -> list[dict[str, object]]:
    """Return the alarms that were raised, some of them false.

    Source
    ------
    Two false alarms in a thousand ports of each kind, and seven leaks in ten noticed: our assumption.
    """
    raised = list(port.alarms)
    if port.fate.code == "customer_leak" and rng.random() < 0.7:
        raised.append((port.fate.onset_s + 2 * DAY_S, "continuous_flow"))
    for alarm in ("cut_wire", "low_battery", "reverse_flow", "continuous_flow"):
        if rng.random() < 0.002:
            raised.append((int(rng.integers(port.fitted_s, port.end_s)), alarm))
    return [
        {"endpoint_serial": port.spec.endpoint_serial, "port": port.spec.port, "at": stamp(at_s), "alarm": alarm}
        for at_s, alarm in sorted(raised)
        if port.fitted_s <= at_s < port.end_s
    ]


__all__ = ["COUNT_FAULTS", "INDEX_FAULTS", "SETTING_FAULTS", "run_group"]
