"""Plant slips of one kind at a time in the sheet of an invented town, and count how many a survey flags.

The town has many kinds of meters, weights and dials, so that what is unusual is not yet wrong.

Run: ``python benchmarks/bench_survey_quality.py [--registers 1200] [--seed 5] [--slips 20]``. Figures go to stdout.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import random
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from dialtrue.engine.simulation.town import TownPlan
from dialtrue.services.simulate import simulate_town
from dialtrue.services.survey import survey_folder

AT = dt.datetime(2026, 6, 1, tzinfo=dt.UTC)
Row = dict[str, str]
OTHER = {"gal": "ft3", "ft3": "gal"}


def _digit(text: str, draw: random.Random) -> str:
    place = draw.randrange(3, len(text))
    return text[:place] + draw.choice([mark for mark in "0123456789" if mark != text[place]]) + text[place + 1 :]


def _plus(row: Row, more: int) -> str:
    return str(int(row["dial_digits"]) + more)


def _use(row: Row, factor: float) -> str:
    return f"{float(row['use_l_per_day']) * factor:.1f}" if row["use_l_per_day"] else ""


SLIPS: dict[str, Callable[[Row, random.Random], Row]] = {
    "leading zeros lost": lambda row, draw: {"meter_serial": row["meter_serial"].lstrip("0")},
    "serial as a number": lambda row, draw: {"meter_serial": f"{int(row['meter_serial']):.5E}"},
    "last two exchanged": lambda row, draw: {"meter_serial": row["meter_serial"][:-2] + row["meter_serial"][:-3:-1]},
    "one digit wrong": lambda row, draw: {"meter_serial": _digit(row["meter_serial"], draw)},
    "dial unit": lambda row, draw: {"dial_unit": OTHER.get(row["dial_unit"], "gal")},
    "pulse unit": lambda row, draw: {"pulse_unit": OTHER.get(row["pulse_unit"], "gal")},
    "weight times ten": lambda row, draw: {"pulse_weight": f"{float(row['pulse_weight']) * 10:g}"},
    "weight not made": lambda row, draw: {"pulse_weight": "3"},
    "a digit too few": lambda row, draw: {"dial_digits": _plus(row, -1)},
    "a digit too many": lambda row, draw: {"dial_digits": _plus(row, 1)},
    "coordinates exchanged": lambda row, draw: {"latitude": row["longitude"], "longitude": row["latitude"]},
    "sign lost": lambda row, draw: {"longitude": row["longitude"].lstrip("-")},
    "use in gallons": lambda row, draw: {"use_l_per_day": _use(row, 1 / 3.785411784)},
    "use in cubic feet": lambda row, draw: {"use_l_per_day": _use(row, 1 / 28.316846592)},
    "words for a number": lambda row, draw: {"dial_digits": "same as last"},
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--registers", type=int, default=1200)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--slips", type=int, default=20)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        town = Path(name) / "town"
        simulate_town(town, Path(name) / "labels", TownPlan(registers=options.registers, days=14, seed=options.seed))
        for path in town.iterdir():
            if path.stem.split(".")[0] not in ("sites", "use_history", "programme", "fittings"):
                path.unlink()
        with (town / "sites.csv").open(encoding="utf-8", newline="") as source:
            rows = list(csv.DictReader(source))
        sound = set(survey_folder(town, at=AT).by_row())
        print(f"{len(rows):,} registers, {len(sound)} of them flagged as they stand")
        for kind, slip in SLIPS.items():
            draw = random.Random(options.seed)
            spoiled = [dict(row) for row in rows]
            planted = set()
            for place in draw.sample(range(len(rows)), options.slips):
                spoiled[place] |= slip(rows[place], draw)
                if spoiled[place] != rows[place]:
                    planted.add(place + 2)
            with (town / "sites.csv").open("w", encoding="utf-8", newline="") as sink:
                writer = csv.DictWriter(sink, list(rows[0]))
                writer.writeheader()
                writer.writerows(spoiled)
            found = survey_folder(town, at=AT).by_row()
            caught = planted & found.keys()
            rules = Counter(flag.rule for row in caught for flag in found[row])
            others = len(found.keys() - planted - sound)
            words = ", ".join(f"{rule} {count}" for rule, count in rules.most_common())
            print(f"{kind:<22} {len(caught):>3} of {len(planted):<3} flagged, {others:>3} others besides: {words}")


if __name__ == "__main__":
    main()
