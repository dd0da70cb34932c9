"""A setting changed after the last look at the dial: the ratio is that of the daily level, not of looks before it."""

from __future__ import annotations

import datetime as dt
import random
from pathlib import Path

import pytest

from dialtrue.services.watch import watch_folder
from tests.support.settled import write_folder

START = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
DAYS, CHANGED = 80, 50


@pytest.mark.parametrize(("told", "ratio"), [(10, 10.0), (100, 100.0)])
def test_a_weight_set_anew_after_the_last_look_carries_the_ratio_of_the_level(tmp_path: Path, told: int, ratio: float):
    draw = random.Random(5)
    index, dial, reads, looks = 1_000, 1_000, [], []
    for hour in range(24 * DAYS):
        at = START + dt.timedelta(hours=hour)
        pulses = draw.choice((0, 0, 3, 7, 12)) if 6 <= at.hour < 23 else 0
        dial += pulses
        index += pulses * (told if hour >= 24 * CHANGED else 1)
        reads.append(f"E1,1,{at + dt.timedelta(hours=1):%Y-%m-%dT%H:%M:%SZ},{index}")
        if hour in (24 * 15, 24 * 40):
            looks.append(f"M1,single,{at + dt.timedelta(hours=1):%Y-%m-%dT%H:%M:%SZ},{dial:08d},reader")
    folder = write_folder(
        tmp_path,
        sites=["S,A,M1,nutating_disc,5/8in,single,8,0,gal,1,1,gal"],
        fittings=[f"S,M1,single,E1,1,{START:%Y-%m-%dT%H:%M:%SZ},00001000,00001000,8,gal,1,1,gal"],
        reads=reads,
        dial_reads=looks,
    )
    found = watch_folder(folder, at=START + dt.timedelta(days=DAYS + 1)).findings[0]
    assert found.fault == "weight_decade"
    assert found.parameter == ratio
    assert abs(found.since - (START + dt.timedelta(days=CHANGED))) < dt.timedelta(days=3)
    assert found.volume_error_l > 0
