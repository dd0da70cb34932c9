"""The table [watch] of programme.toml: defaults, ranges, nearest names, costs that make no sense together."""

from __future__ import annotations

from pathlib import Path

import pytest

from dialtrue.domain.errors.base import DialtrueError
from dialtrue.domain.watch_settings import Costs, WatchSettings
from dialtrue.files.settings import watch_settings
from tests.support.folders import opened, with_files


def settings(folder: Path, text: str) -> WatchSettings:
    return watch_settings(with_files(folder, programme_toml=text))


def test_a_programme_that_says_nothing_has_the_shipped_costs(tmp_path: Path) -> None:
    assert watch_settings(tmp_path) == WatchSettings()
    assert settings(tmp_path, 'timezone = "UTC"\n') == WatchSettings()


def test_what_is_stated_replaces_only_its_own_default(tmp_path: Path) -> None:
    got = settings(
        tmp_path,
        "[watch]\nremote_checks_per_1000 = 5\n[watch.costs]\nvisit = 90\nremote_check = 8.5\n"
        "[watch.prior]\nwet_counts = 0.02\n",
    )
    assert got.remote_checks_per_1000 == 5.0
    assert got.costs == Costs(visit=90.0, remote_check=8.5)
    assert got.prior == {"wet_counts": 0.02}


def test_an_opened_programme_carries_them(tmp_path: Path) -> None:
    programme = opened(with_files(tmp_path, programme_toml="[watch.costs]\nwait_days = 60\n", fittings_csv=FITTINGS))
    assert programme.watch.costs.wait_days == 60.0


FITTINGS = "meter_serial,endpoint_serial,fitted_at\nM1,E1,2026-01-05\n"
REFUSED = [
    ("watch = 3", "BAD-WATCH-SETTING", "[watch]"),
    ("[watch]\ncosts = 3", "BAD-WATCH-SETTING", "[watch.costs]"),
    ("[watch]\nremote_checks = 3", "UNKNOWN-WATCH-SETTING", "watch.remote_checks_per_1000"),
    ("[watch]\nremote_checks_per_1000 = 1001", "BAD-WATCH-SETTING", "up to 1,000"),
    ("[watch.costs]\nwasted_vist = 3", "UNKNOWN-WATCH-SETTING", "watch.costs.wasted_visit"),
    ("[watch.costs]\nvisit = -1", "BAD-WATCH-SETTING", "watch.costs.visit is -1"),
    ("[watch.costs]\nvisit = '90'", "BAD-WATCH-SETTING", "without quotes"),
    ("[watch.costs]\nvisit = true", "BAD-WATCH-SETTING", "True"),
    ("[watch.costs]\nvisit = nan", "BAD-WATCH-SETTING", "nan"),
    ("[watch.costs]\nvisit = inf", "BAD-WATCH-SETTING", "inf"),
    ("[watch.costs]\nvisit = 0", "ABSURD-WATCH-COSTS", "must cost something"),
    ("[watch.costs]\nremote_check = 2", "ABSURD-WATCH-COSTS", "nobody would ask for a photograph"),
    ("[watch.costs]\nwasted_visit = 5000", "ABSURD-WATCH-COSTS", "thousand visits"),
    ("[watch.costs]\nwait_days = 0.5", "ABSURD-WATCH-COSTS", "at least a day"),
    ("[watch.costs]\ncheck_days = 500", "ABSURD-WATCH-COSTS", "too late"),
    (
        "[watch.costs]\nwrong_bill = 0\nwrong_record = 0\nover_per_m3 = 0\nunder_per_m3 = 0",
        "ABSURD-WATCH-COSTS",
        "no price on a wrong bill",
    ),
    ("[watch.prior]\nwet_count = 0.1", "UNKNOWN-WATCH-SETTING", "watch.prior.wet_counts"),
    ("[watch.prior]\nwet_counts = 0", "BAD-WATCH-SETTING", "above 0"),
    ("[watch.prior]\nwet_counts = 0.6\ndead_input = 0.5", "ABSURD-WATCH-COSTS", "nothing sound"),
]


@pytest.mark.parametrize(("text", "code", "words"), REFUSED, ids=[item[0][-30:] for item in REFUSED])
def test_a_setting_that_makes_no_sense_is_refused_with_its_name(
    tmp_path: Path, text: str, code: str, words: str
) -> None:
    with pytest.raises(DialtrueError) as caught:
        settings(tmp_path, text)
    assert caught.value.code == code
    assert caught.value.exit_code == 19
    assert words in str(caught.value)
