"""Measure how good the watch is on fresh simulated fleets, beside two peers, in one table.

Run: ``python benchmarks/bench_watch_quality.py [--seed N] [--registers 2000] [--towns 1] [--quick] [--only TEXT ...]``.

Each fleet is judged from the same folder by the watch, by a script of trade rules of thumb and by scikit-learn's
IsolationForest. Without ``--seed`` a seed is drawn from the test range of ``seeds.toml`` and printed; ``--train`` draws
from the training range, for whoever mends a model. Brackets hold 95 % intervals: Wilson for shares, exact Poisson for
visits, and a bootstrap over ports for macro-F1 and calibration.

Columns: visits to healthy ports per 1,000 of them and 30 days; remote checks at healthy ports, likewise; material
faults (5 % of the water or more) for which anything was asked, and those named rightly; the same of those that
something in the files shows; of those that only a second look at the dial could show, how many got a ranked request
for a check; macro-F1 over all codes; calibration error of findings that ask for something; 90 % volume intervals that
hold the truth, of all ports and of faulty ones; endpoints of crossed meters told rightly; those of rings of three and
more.
"""

from __future__ import annotations

import argparse
import datetime as dt
import random
import sys
import tempfile
import tomllib
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from benchmarks.peers import isolation_forest, rules_of_thumb
from dialtrue.domain.faults import INNOCENT
from dialtrue.domain.finding import Crossing, Finding
from dialtrue.engine.simulation.fates import DEFAULT_MIX
from dialtrue.engine.simulation.town import READ_EVERY_S, TownPlan
from dialtrue.services.simulate import simulate_town
from dialtrue.services.watch import watch_folder
from dialtrue.services.watch_quality import (
    Quality,
    calibration_error,
    macro_f1,
    read_planted_ports,
    read_true_crossings,
    score_findings,
)

Judge = Callable[[Path, dt.datetime], tuple[Sequence[Finding], Sequence[Crossing]]]
DAYS = {"hourly": 90, "daily": 120, "monthly": 210}
PREVALENCE = {"realistic": (0.008, 0.08), "rich": (0.06, 0.08)}
MONTHLY_MIX = {code: weight for code, weight in DEFAULT_MIX.items() if code != "clock_shift"}
"""A clock some hours out is nothing to reads a month apart: no method could see it, and no bill changes."""
UNITS = ("us", "metric", "mixed")
RESAMPLES = 200


@dataclass(frozen=True)
class Case:
    """One kind of fleet."""

    prevalence: str
    profile: str
    dials: str

    @property
    def name(self) -> str:
        return f"{self.prevalence} {self.profile} {self.dials}"

    def plan(self, seed: int, registers: int, units: str) -> TownPlan:
        """Return the town to build: faults may begin at any time."""
        faults, innocents = PREVALENCE[self.prevalence]
        month = 1 + seed % 12
        return TownPlan(
            seed=seed, registers=registers, days=DAYS[self.profile], units=units, fault_share=faults,
            innocent_share=innocents, dial_reads=self.dials, read_interval_s=READ_EVERY_S[self.profile],
            start=dt.datetime(2024, month, 3, 6, tzinfo=dt.UTC), onset_span=(0.0, 1.0),
            as_received=seed % 2 == 1,
            faults=MONTHLY_MIX if self.profile == "monthly" else None,
        )  # fmt: skip


CASES = [Case(p, r, d) for p in PREVALENCE for r in DAYS for d in ("dense", "sparse")]


def main() -> None:
    """Build, judge, score, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, help="first seed; one more for each town")
    parser.add_argument("--train", action="store_true", help="draw the seed from the training range")
    parser.add_argument("--registers", type=int, default=2000)
    parser.add_argument("--towns", type=int, default=1, help="towns of each kind")
    parser.add_argument("--quick", action="store_true", help="two small rich fleets, under a minute, for CI")
    parser.add_argument("--only", nargs="*", default=[], help="kinds of fleet whose name holds all these words")
    parser.add_argument("--no-peers", action="store_true", help="judge by the watch alone")
    parser.add_argument("--confusions", action="store_true", help="print what was taken for what")
    parser.add_argument("--keep", type=Path, help="keep the towns here: NAME/town, NAME/labels")
    asked = parser.parse_args()
    seed = drawn_seed(train=asked.train) if asked.seed is None else asked.seed
    registers = 400 if asked.quick else asked.registers
    cases = [case for case in CASES if all(word in case.name.split() for word in asked.only)]
    if asked.quick:
        cases = [Case("rich", "hourly", "dense"), Case("rich", "daily", "sparse")]
    judges: dict[str, Judge] = {"dialtrue": _watch}
    if not asked.no_peers:
        judges |= {"rules of thumb": _rules, "isolation forest": _forest}
    print(f"seed {seed}, {asked.towns} town(s) of {registers:,} registers of each kind", flush=True)
    results = {(judge, case): Quality() for judge in judges for case in cases}
    spent: Counter[str] = Counter()
    for case in cases:
        for town in range(asked.towns):
            plan = case.plan(seed, registers, UNITS[seed % 3])
            seed += 1
            with tempfile.TemporaryDirectory(prefix="dialtrue-quality-") as scratch:
                place = (
                    Path(scratch) if asked.keep is None else asked.keep / f"{case.name.replace(' ', '-')}-{plan.seed}"
                )
                begun = perf_counter()
                simulate_town(place / "town", place / "labels", plan)
                spent["simulation"] += perf_counter() - begun
                planted, rings = read_planted_ports(place / "labels"), read_true_crossings(place / "labels")
                at = plan.start + dt.timedelta(days=plan.days)
                for name, judge in judges.items():
                    begun = perf_counter()
                    findings, crossings = judge(place / "town", at)
                    spent[name] += perf_counter() - begun
                    quality = score_findings(
                        planted, findings, days=plan.days, true_crossings=rings, crossings=crossings
                    )
                    results[(name, case)].add(quality)
            print(f"  {case.name}, town {town + 1}: seed {plan.seed}, {plan.units}", file=sys.stderr, flush=True)
    print(table(results))
    print("time: " + ", ".join(f"{name} {seconds:.0f} s" for name, seconds in spent.items()))
    if asked.confusions:
        print(confusions(results))


def drawn_seed(*, train: bool) -> int:
    """Return a fresh seed from the range that ``seeds.toml`` keeps for this use."""
    ranges = tomllib.loads((Path(__file__).parent / "seeds.toml").read_text(encoding="utf-8"))
    span = ranges["train" if train else "test"]
    return random.SystemRandom().randint(span["first"], span["last"] - 1000)


def _watch(folder: Path, at: dt.datetime) -> tuple[Sequence[Finding], Sequence[Crossing]]:
    result = watch_folder(folder, at=at, traces=0)
    return result.findings, result.crossings


def _rules(folder: Path, at: dt.datetime) -> tuple[Sequence[Finding], Sequence[Crossing]]:
    return rules_of_thumb.judge(folder)


def _forest(folder: Path, at: dt.datetime) -> tuple[Sequence[Finding], Sequence[Crossing]]:
    return isolation_forest.judge(folder)


COLUMNS = (
    "wasted /1000/30 d", "checks", "flagged", "named", "shown: flagged", "shown: named", "hidden: asked", "macro-F1",
    "calibration", "coverage", "  of faults", "crossed", "rings",
)  # fmt: skip


_BOTH = {
    "wasted /1000/30 d": "<= 1", "hidden: asked": "all", "calibration": "<= 0.03", "coverage": "0.87-0.93",
    "crossed": ">= 0.9", "rings": ">= 0.9",
}  # fmt: skip
TARGETS = {
    "target, dense": _BOTH | {"shown: flagged": ">= 0.99", "shown: named": ">= 0.93", "macro-F1": ">= 0.93"},
    "target, sparse": _BOTH | {"shown: flagged": ">= 0.85", "shown: named": ">= 0.75", "macro-F1": ">= 0.80"},
}


def table(results: dict[tuple[str, Case], Quality]) -> str:
    """Return the one table, a row a method and kind of fleet, and a sum row a method."""
    rows = [("", *COLUMNS)]
    rows += [(name, *(target.get(column, "") for column in COLUMNS)) for name, target in TARGETS.items()]
    methods = list(dict.fromkeys(method for method, _ in results))
    for method in methods:
        total = Quality()
        for (name, case), quality in results.items():
            if name == method:
                rows.append((f"{method}: {case.name}", *_cells(quality)))
                total.add(quality)
        if sum(name == method for name, _ in results) > 1:
            rows.append((f"{method}: all", *_cells(total)))
    widths = [max(len(row[place]) for row in rows) for place in range(len(rows[0]))]
    return "\n".join(
        "  ".join(cell.ljust(width) if not place else cell.rjust(width) for place, (cell, width) in
                  enumerate(zip(row, widths, strict=True)))
        for row in rows
    )  # fmt: skip


def _cells(quality: Quality) -> tuple[str, ...]:
    months = quality.port_days / 30_000
    return (
        _rate(quality.visits, months),
        f"{quality.checks / months:.1f}" if months else "-",
        _share(quality.flagged, quality.material),
        _share(quality.rightly, quality.material),
        _share(quality.shown_flagged, quality.shown),
        _share(quality.shown_rightly, quality.shown),
        f"{quality.hidden_asked}/{quality.hidden}",
        _resampled_f1(quality.named),
        _resampled_calibration(quality.stated),
        _share(quality.covered, quality.intervals),
        _share(quality.fault_covered, quality.fault_intervals),
        f"{quality.crossed_found}/{quality.crossed}",
        f"{quality.rings_found}/{quality.rings}",
    )


def _rate(count: int, months: float) -> str:
    """Return visits per 1,000 healthy ports and 30 days, with the exact Poisson interval."""
    from scipy.stats import chi2

    if not months:
        return "-"
    low = chi2.ppf(0.025, 2 * count) / 2 if count else 0.0
    high = chi2.ppf(0.975, 2 * count + 2) / 2
    return f"{count / months:.2f} ({low / months:.1f}-{high / months:.1f})"


def _share(hits: int, of: int) -> str:
    """Return a share with its Wilson interval."""
    if not of:
        return "-"
    z = 1.96
    share = hits / of
    middle = (share + z * z / 2 / of) / (1 + z * z / of)
    half = z * (share * (1 - share) / of + z * z / 4 / of / of) ** 0.5 / (1 + z * z / of)
    return f"{share:.2f} ({max(middle - half, 0):.2f}-{min(middle + half, 1):.2f})"


def _resampled_f1(named: Counter[tuple[str, str]]) -> str:
    if not named:
        return "-"
    rng = np.random.default_rng(1)
    cells, counts = list(named), np.array(list(named.values()))
    draws = rng.multinomial(counts.sum(), counts / counts.sum(), RESAMPLES)
    scores = [macro_f1(Counter(dict(zip(cells, draw.tolist(), strict=True)))) for draw in draws]
    return _around(macro_f1(named), float(np.std(scores)), 2)


def _resampled_calibration(stated: list[tuple[float, bool]]) -> str:
    if not stated:
        return "-"
    rng = np.random.default_rng(1)
    scores = [
        calibration_error([stated[int(row)] for row in rng.integers(0, len(stated), len(stated))]) for _ in range(60)
    ]
    return _around(calibration_error(stated), float(np.std(scores)), 3)


def _around(value: float, spread: float, places: int) -> str:
    """Return a figure with 1.96 times its bootstrap spread about it: draws themselves lean to one side."""
    low, high = max(value - 1.96 * spread, 0.0), min(value + 1.96 * spread, 1.0)
    return f"{value:.{places}f} ({low:.2f}-{high:.2f})"


def confusions(results: dict[tuple[str, Case], Quality]) -> str:
    """Return what the first method took for what, over all fleets, the commonest first."""
    total = Quality()
    for (name, _), quality in results.items():
        if name == "dialtrue":
            total.add(quality)
    lines = ["wasted visits (truth, named):"]
    lines += [f"  {count:4d}  {truth} -> {name}" for (truth, name), count in total.wasted.most_common(20)]
    lines.append("taken for another (truth, named):")
    wrong = [(pair, count) for pair, count in total.named.most_common() if pair[0] != pair[1]]
    lines += [f"  {count:4d}  {truth} -> {name}" for (truth, name), count in wrong[:40]]
    planted: Counter[str] = Counter()
    for (truth, _), count in total.named.items():
        planted[truth] += count
    lines.append("named rightly, of those planted:")
    lines += [
        f"  {code + (' (innocent)' if code in INNOCENT else ''):28s} {total.named[(code, code)]}/{count}"
        for code, count in sorted(planted.items())
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    main()
