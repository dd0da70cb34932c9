"""Measure how near estimates come to reads that were there: take sound reads of a folder out, fill, compare.

Run: ``python benchmarks/bench_fill_quality.py FOLDER [--repeat 3]`` on any programme folder with hourly reads, such as
``demo-town/town``. For gaps of several lengths, and for open ends, stdout gets the estimated reads, the share of them
whose 90 % interval holds the truth, the mean error in counts, and that of a straight line between the same two reads.
"""

from __future__ import annotations

import argparse
import datetime as dt
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from dialtrue.engine.gap_fill import FillRules, cadence_of, fill_gaps, find_gaps
from dialtrue.engine.gap_shape import DAY_US, HOUR_US
from dialtrue.engine.read_checks import CheckedReads, PortRecords, check_reads, order_of
from dialtrue.files.programme import open_programme
from dialtrue.services.read_calendar import local_time

RULES = FillRules(2 * HOUR_US, False, 28 * DAY_US, 366 * DAY_US, 31 * DAY_US)
GAPS_H = (1, 3, 8, 24, 72, 168)
ENDS_H = (24, 168, 336)
BEFORE_H = 300


@dataclass
class Score:
    """Sums over the estimates of one length."""

    made: int = 0
    held: int = 0
    error: float = 0.0
    straight: float = 0.0


def checked(channel: np.ndarray, at_us: np.ndarray, index: np.ndarray, flag: np.ndarray) -> CheckedReads:
    """Check reads without any record of their ports."""
    order = order_of(channel, at_us, index, flag, at_us)
    channel, at_us, index, flag = channel[order], at_us[order], index[order], flag[order]
    first = np.append(np.flatnonzero(np.diff(channel, prepend=-1)), len(channel))
    runs = len(first) - 1
    unknown = PortRecords(
        np.zeros(runs, np.int64), np.full(runs, np.inf), np.zeros(runs + 1, np.int64), np.zeros(0, np.int64)
    )
    return check_reads(first, at_us, index, flag, at_us, unknown, now_us=int(at_us.max()))


def reads_of(folder: Path) -> tuple[CheckedReads, str]:
    """Take all reads of a folder and check them; return them with the time zone."""
    programme = open_programme(folder, at=dt.datetime(2100, 1, 1, tzinfo=dt.UTC))
    if programme.reads is None:
        raise SystemExit(f"{folder} has no reads")
    batches = list(programme.reads.batches())
    keys = np.concatenate([(batch.endpoint.astype(np.int64) << 32) + batch.port for batch in batches])
    _, channel = np.unique(keys, return_inverse=True)
    columns = [np.concatenate([getattr(batch, name) for batch in batches]) for name in ("at_us", "index", "flag")]
    return checked(channel.astype(np.int32), *columns), programme.timezone


def trial(reads: CheckedReads, zone: str, hours: int, rng: np.random.Generator, score: Score, *, end: bool) -> None:
    """Take one stretch out of each port that has a whole one, fill, and add to the score."""
    kept, taken = np.ones(len(reads.at_us), bool), {}
    for r in range(len(reads.first) - 1):
        low, high = int(reads.first[r]), int(reads.first[r + 1])
        if high - low < BEFORE_H + hours:
            continue
        begin = high - hours if end else int(rng.integers(low + 100, high - hours - 100))
        rows = np.arange(begin, begin + hours)
        chain = np.append(rows, begin + hours) if not end else rows
        if (reads.before[chain] == chain - 1).all() and (np.diff(reads.at_us[chain]) == HOUR_US).all():
            kept[rows] = False
            taken.update(((r, int(reads.at_us[i])), (i, rows)) for i in rows.tolist())
    run = np.repeat(np.arange(len(reads.first) - 1), np.diff(reads.first)).astype(np.int32)
    untrusted = (reads.before == -2).astype(np.int8)
    left = checked(run[kept], reads.at_us[kept], reads.index[kept], untrusted[kept])
    cadence = cadence_of(left)
    gaps = find_gaps(left, cadence, np.full(len(cadence), reads.at_us.max()), RULES)
    local = local_time(int(reads.at_us.min()), int(reads.at_us.max()), zone)
    none = np.zeros(len(cadence), np.int64)
    made = fill_gaps(
        left, gaps, none, cadence, local, RULES, alarm_first=np.append(none, 0), alarms_us=np.zeros(0, np.int64)
    )
    for k in range(len(made.gap)):
        found = taken.get((int(gaps.run[made.gap[k]]), int(made.at_us[k])))
        if found is None:
            continue
        i, rows = found
        truth = int(reads.index[i])
        score.made += 1
        score.held += int(made.low[k] <= truth <= made.high[k])
        score.error += abs(int(made.index[k]) - truth)
        if not end:
            one, two = int(reads.index[rows[0] - 1]), int(reads.index[rows[-1] + 1])
            score.straight += abs(one + (two - one) * (i - rows[0] + 1) / (len(rows) + 1) - truth)


def main() -> None:
    """Print a line a length."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("folder", type=Path)
    words.add_argument("--repeat", type=int, default=3)
    asked = words.parse_args()
    reads, zone = reads_of(asked.folder)
    rng = np.random.default_rng(3)
    for hours, end in [*((each, False) for each in GAPS_H), *((each, True) for each in ENDS_H)]:
        score = Score()
        for _ in range(1 if end else asked.repeat):
            trial(reads, zone, hours, rng, score, end=end)
        if score.made:
            held, error, straight = score.held / score.made, score.error / score.made, score.straight / score.made
            beside = "" if end else f", straight line {straight:.1f}"
            what = "open end" if end else "gap"
            print(f"{what} of {hours} h: {score.made:,} estimates, {held:.0%} held, error {error:.1f} counts{beside}")


if __name__ == "__main__":
    main()
