"""Time the day routes and print their gaps: python benchmarks/bench_routes.py [visits] [crews] [days] [seconds]."""

from __future__ import annotations

import csv
import datetime as dt
import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from dialtrue.services.routes import route_folder


def write_programme(folder: Path, *, visits: int, crews: int, seed: int = 7, windows: bool = True) -> None:
    """Write an invented town: streets of houses around a middle, a plan, crews with skills."""
    rng = np.random.default_rng(seed)
    streets = max(4, visits // 12)
    street_of = rng.integers(0, streets, visits)
    heads, angles = rng.normal(0, (0.035, 0.045), (streets, 2)), rng.uniform(0, np.pi, streets)
    along, across = rng.uniform(-0.006, 0.006, visits), rng.normal(0, 0.0002, visits)
    lat = 39.5 + heads[street_of, 0] + along * np.sin(angles[street_of]) + across
    lon = -41.2 + heads[street_of, 1] + along * np.cos(angles[street_of]) + across
    mounts = rng.choice(["pit", "wall", "indoor", "pole"], visits, p=[0.5, 0.3, 0.15, 0.05])
    draw = rng.random(visits)
    sites, plan = [], []
    for k in range(visits):
        window = ("", "")
        if windows and draw[k] < 0.25:
            window = ("08:00", "12:00") if draw[k] < 0.125 else ("12:00", "15:30")
        compound = k % 25 == 24
        for role in ("high", "low") if compound else ("single",):
            serial = f"{k:07d}{'' if role == 'single' else role[0].upper()}"
            address = f"{k + 1} Street {street_of[k] + 1}"
            sites.append([f"S{k:05d}", address, f"{lat[k]:.5f}", f"{lon[k]:.5f}", mounts[k], serial,
                          role, 6, "gal", 10, "gal", *window, "confined" if compound else ""])  # fmt: skip
            minutes = {"pit": 12, "wall": 10, "indoor": 18, "pole": 14}[str(mounts[k])]
            parts = '[{"kind": "endpoint", "part": "one-port", "quantity": "1"}, ' \
                    '{"kind": "part", "part": "splice", "quantity": "2"}]'  # fmt: skip
            plan.append([f"S{k:05d}", serial, role, "planned", "fits", 1, minutes, parts])
    rows = [[f"Crew {k + 1}", "39.49", "-41.22", "confined" if k % 3 == 0 else "", 60] for k in range(crews)]
    tables = {
        "sites": (["site", "address", "latitude", "longitude", "mount", "meter_serial", "register_role", "dial_digits",
                   "dial_unit", "pulse_weight", "pulse_unit", "window_from", "window_to", "skills"], sites),
        "plan": (["site", "meter_serial", "register_role", "status", "verdict", "endpoint_number", "job_minutes",
                  "parts"], plan),
        "crews": (["crew", "depot_latitude", "depot_longitude", "skills", "most_endpoints"], rows),
    }  # fmt: skip
    for name, (head, body) in tables.items():
        with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as sink:
            csv.writer(sink).writerows([head, *body])
    (folder / "programme.toml").write_text('timezone = "America/Chicago"\n', encoding="utf-8")


def main() -> None:
    """Print placed visits, driving, gaps, time and memory."""
    given = [float(word) for word in sys.argv[1:]]
    visits, crews, days, seconds = (given + [200, 6, 1, 10][len(given) :])[:4]
    for windows in (True, False):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            write_programme(folder, visits=int(visits), crews=int(crews), windows=windows)
            begun = time.perf_counter()
            answer = route_folder(
                folder, at=dt.datetime(2026, 5, 1, tzinfo=dt.UTC), first_day=dt.date(2026, 5, 4), days=int(days),
                seconds=seconds,
            )  # fmt: skip
            took = time.perf_counter() - begun
        figures = answer.summary
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        above, nearest = figures.above_bound, figures.nearest_above
        print(
            f"{'windows and skills' if windows else 'skills only':<19} {figures.placed:,} of {figures.visits:,} "
            f"visits, {figures.used} crew-days, {figures.travel_s / 60:,.0f} min driving; "
            f"by nearness {figures.nearest_placed:,} visits, {figures.nearest_s / 60:,.0f} min"
            + ("" if nearest is None else f" ({100 * nearest:+.0f} %)")
            + f"; bound {figures.bound_s / 60:,.0f} min ({figures.bound_by})"
            + ("" if above is None else f", at most {100 * above:.1f} % above")
            + f"; {figures.rounds:,} rounds, {took:.1f} s, {peak:,.0f} MB"
        )


if __name__ == "__main__":
    main()
