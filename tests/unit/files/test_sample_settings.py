"""The table [sample]: what it takes, and what it refuses."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from dialtrue.domain.acceptance.settings import SampleSettings
from dialtrue.domain.errors import BadSampleSetting, UnknownSampleSetting
from dialtrue.files.sample_settings import sample_settings
from tests.docs.test_pages import blocks

PAGE = Path(__file__).resolve().parents[3] / "docs" / "how-to" / "accept-a-lot.md"


def read(folder: Path, text: str) -> SampleSettings:
    (folder / "programme.toml").write_text(text, encoding="utf-8")
    return sample_settings(folder)


def test_defaults_where_nothing_is_said(tmp_path: Path) -> None:
    assert sample_settings(tmp_path) == SampleSettings()


def test_the_settings_of_the_how_to_are_taken_and_all_of_them_stand_there(tmp_path: Path) -> None:
    (block,) = blocks(PAGE, "toml")
    found = read(tmp_path, block)
    assert (found.critical, found.whole_types) == ("zero 5", ("compound",))
    names = set(tomllib.loads(block)["sample"])
    assert names | {"seed"} == set(SampleSettings.__slots__)


@pytest.mark.parametrize(
    ("line", "part"),
    [
        ('critical = "1 %"', "aql 1.0"),
        ('critical = "aql 3"', "aql 1.0"),
        ("critical = 1.0", "aql 1.0"),
        ('level = "IV"', "S-1"),
        ('series = "van"', "all, crew"),
        ('whole_types = "compound"', "a list of meter types"),
        ('whole_types = ["compund"]', "a list of meter types"),
        ('reduced = "yes"', "true or false"),
        ("relax_after = 1", "from 5 to 50"),
        ("enough = 2.5", "a whole number"),
        ("confidence = 95", "from 0.5 to 0.999"),
        ("act_below = true", "from 0.0001"),
        ('seed = ""', "a text in quotes"),
        ("lot_by = 7", "a text in quotes"),
    ],
)
def test_other_values_are_refused_with_what_to_write(tmp_path: Path, line: str, part: str) -> None:
    with pytest.raises(BadSampleSetting) as told:
        read(tmp_path, f"[sample]\n{line}\n")
    assert part in str(told.value)


def test_an_unknown_name_is_told_with_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(UnknownSampleSetting, match=r"sample\.seed"):
        read(tmp_path, '[sample]\nsede = "x"\n')
    with pytest.raises(BadSampleSetting, match=r"\[sample\]"):
        read(tmp_path, 'sample = "all"\n')
