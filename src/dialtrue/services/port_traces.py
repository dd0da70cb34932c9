"""The series behind one finding, in the dial's unit, for the pictures."""

from __future__ import annotations

import datetime as dt

import numpy as np

from dialtrue.domain.quantity import litres_per
from dialtrue.domain.watch_result import DialPoint, PortTrace
from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.scan_kernel import DAY_US, HOUR_US
from dialtrue.services.fleet_records import FleetRecords, moment_of


def trace_of(records: FleetRecords, case: Case, f: int, since_us: tuple[int, int, int] | None) -> PortTrace:
    """Return the picture's series of one port.

    Parameters
    ----------
    f : int
        Row of the fleet.
    since_us : tuple of int, optional
        Onset and the ends of its interval. [µs]

    Returns
    -------
    PortTrace
        Index at each day's last read; dial at each look.

    Raises
    ------
    Never raises.
    """
    fleet, scan, pairs = case.fleet, case.scan, case.pairs
    site, fitting = records.site_rows[f] or {}, records.fitting_rows[f]
    unit = str(site.get("dial_unit") or "L")
    per = float(litres_per(unit))
    q = float(fleet.quantum_index_l[f])
    walk = scan.day_walk[f]
    days = np.flatnonzero(~np.isnan(walk))
    figures = scan.figures[f]
    start = scan.calendar.start_us
    at = [moment_of(min(start + (int(d) + 1) * DAY_US, int(figures["last_us"]))) for d in days]
    gap = int(pairs.start_gap[f])
    volume = [float((walk[d] + gap) * q / per) for d in days]
    points = []
    if fitting["dial_at_fit"] and not np.isnan(fleet.dial_fit_l[f]):
        count = int(fleet.start_count[f]) if fleet.start_count[f] >= 0 else None
        points.append(DialPoint(moment_of(int(fleet.fit_us[f])), fitting["dial_at_fit"], "fitter", 0.0, count, 0.0))
    for j in range(int(pairs.first[f]), int(pairs.first[f + 1])):
        row = records.dial_rows[int(records.dials.row[j])]
        seen = bool(pairs.usable[j])
        points.append(
            DialPoint(
                row["at"], row["dial"] or "", row["source"] or "", float(pairs.dial_l[j] / per),
                int(pairs.index_count[j]) if seen and pairs.index_count[j] >= 0 else None,
                float(pairs.index_l[j] / per) if seen else None,
            )
        )  # fmt: skip
    since, low, high = (None, None, None) if since_us is None else (moment_of(us) for us in since_us)
    digits = int(fitting["index_digits"] or len(fitting["start_index"] or "") or 1)
    return PortTrace(
        meter_serial=fleet.meter_serial[f],
        endpoint_serial=fleet.endpoint_serial[f],
        port=int(fleet.port[f]),
        register_role=fleet.role[f],
        site=fleet.site[f],
        address=str(site.get("address") or ""),
        dial_unit=unit,
        moving_digits=int(site.get("dial_digits") or 0),
        fixed_zeros=int(site.get("fixed_zeros") or 0),
        dial_resolution=str(site.get("dial_resolution") or ""),
        index_digits=digits,
        index_unit=str(fitting["index_unit"] or unit),
        index_resolution=str(fitting["index_resolution"] or site.get("dial_resolution") or "1"),
        fitted_at=fitting["fitted_at"],
        start_index=str(fitting["start_index"] or ""),
        dial_at_fit=str(fitting["dial_at_fit"] or ""),
        dial_points=tuple(points),
        index_at=tuple(at),
        index_volume=tuple(volume),
        wet_spans=_wet_spans(case, f),
        since=since,
        since_low=low,
        since_high=high,
    )


def _wet_spans(case: Case, f: int) -> tuple[tuple[dt.datetime, dt.datetime], ...]:
    """Runs of wet hours while the port was heard."""
    calendar, figures = case.scan.calendar, case.scan.figures[f]
    wet = (calendar.wet == 1).astype(np.int8)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], wet, [0]))))
    spans = []
    for first, past in zip(edges[::2], edges[1::2], strict=True):
        low = max(calendar.start_us + int(first) * HOUR_US, int(figures["first_us"]))
        high = min(calendar.start_us + int(past) * HOUR_US, int(figures["last_us"]))
        if low < high:
            spans.append((moment_of(low), moment_of(high)))
    return tuple(spans)
