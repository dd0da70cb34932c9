"""The table [plan] of programme.toml: defaults, ranges, nearest names."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from dialtrue.domain.errors.base import DialtrueError
from dialtrue.domain.planning.settings import SKILLS, PlanSettings
from dialtrue.domain.quantity import litres_per
from dialtrue.files.plan_settings import plan_settings
from tests.support.folders import with_files


def settings(folder: Path, text: str) -> PlanSettings:
    return plan_settings(with_files(folder, programme_toml=text))


def test_a_programme_that_says_nothing_has_the_shipped_settings(tmp_path: Path) -> None:
    assert plan_settings(tmp_path) == PlanSettings()
    assert settings(tmp_path, 'timezone = "UTC"\n') == PlanSettings()
    assert plan_settings(tmp_path / "sites.csv") == PlanSettings()


def test_what_is_stated_replaces_only_its_own_default(tmp_path: Path) -> None:
    got = settings(
        tmp_path,
        "[plan]\nbilling = '1000 gal'\nendpoints = ['pit-one-port']\noutput = 'reed-contact'\ncable = 'awg22-pair'\n"
        "cable_length_m = 2\ncable_slack_share = 0.1\ntap_flow = '5 gal/min'\nfollow_up_days = 30\ncoldest_c = -25\n"
        "[plan.job_minutes]\npit = 20\n[plan.skills]\nwall = ['key']\n",
    )
    assert got == PlanSettings(
        billing_l=1000 * litres_per("gal"),
        endpoints=("pit-one-port",),
        output="reed-contact",
        cable="awg22-pair",
        cable_length_m=2.0,
        cable_slack_share=Fraction(1, 10),
        tap_flow_lpm=5 * litres_per("gal"),
        follow_up_days=30,
        coldest_c=-25.0,
        job_minutes={"pit": 20.0},
        skills={**SKILLS, "wall": ("key",)},
    )


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("plan = 3", "BAD-PLAN-SETTING", "[plan]"),
        ("[plan]\nbiling = '1 m3'", "UNKNOWN-PLAN-SETTING", "plan.billing"),
        ("[plan]\nbilling = 1000", "BAD-PLAN-SETTING", "volume with its unit"),
        ("[plan]\nbilling = '1000 gallons'", "BAD-PLAN-SETTING", "'1000 gal'"),
        ("[plan]\nbilling = '0 gal'", "BAD-PLAN-SETTING", "above 0"),
        ("[plan]\ntap_flow = '-5 gal/min'", "BAD-PLAN-SETTING", "above 0"),
        ("[plan]\nendpoints = 'pit-one-port'", "BAD-PLAN-SETTING", "a list of texts"),
        ("[plan]\noutput = ''", "BAD-PLAN-SETTING", "key of a data sheet"),
        ("[plan]\nfollow_up_days = 60", "BAD-PLAN-SETTING", "25 to 45"),
        ("[plan]\nfollow_up_days = 30.5", "BAD-PLAN-SETTING", "whole number"),
        ("[plan]\ncable_length_m = 'six'", "BAD-PLAN-SETTING", "without quotes"),
        ("[plan]\ncable_length_m = nan", "BAD-PLAN-SETTING", "0 to 10,000"),
        ("[plan]\ncable_slack_share = 3", "BAD-PLAN-SETTING", "0 to 2"),
        ("[plan]\ncoldest_c = true", "BAD-PLAN-SETTING", "-90 to 60"),
        ("[plan.job_minutes]\nroof = 5", "UNKNOWN-PLAN-SETTING", "plan.job_minutes.pole"),
        ("[plan.job_minutes]\npit = -5", "BAD-PLAN-SETTING", "plan.job_minutes.pit"),
        ("[plan.skills]\npit = 'gas'", "BAD-PLAN-SETTING", "list of texts"),
        ("[plan.skills]\npit = ['confined space']", "BAD-PLAN-SETTING", "one word"),
    ],
)
def test_what_makes_no_sense_is_refused(tmp_path: Path, text: str, code: str, words: str) -> None:
    with pytest.raises(DialtrueError) as caught:
        settings(tmp_path, text)
    assert caught.value.code == code
    assert words in str(caught.value)
    assert caught.value.exit_code == 19
