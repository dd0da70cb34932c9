"""The table [handover] of programme.toml."""

from __future__ import annotations

from pathlib import Path

import pytest

from dialtrue.domain.errors import BadHandoverSetting, UnknownHandoverSetting
from dialtrue.domain.handover.rules import HandoverSettings
from dialtrue.files.handover_settings import handover_settings


def _settings(folder: Path, text: str) -> HandoverSettings:
    (folder / "programme.toml").write_text(text, encoding="utf-8")
    return handover_settings(folder)


def test_defaults_stand_where_nothing_is_said(tmp_path: Path) -> None:
    assert handover_settings(tmp_path) == HandoverSettings()
    told = _settings(tmp_path, "[handover]\nleast_probability = 0.9\nports_per_file = 40\n")
    assert told == HandoverSettings(0.9, 40)
    assert _settings(tmp_path, "[handover]\nallow_checks = true\n").allow_checks


@pytest.mark.parametrize(
    "line",
    ["least_probability = 'high'", "least_probability = 0.2", "least_probability = nan", "ports_per_file = 0",
     "ports_per_file = 2.5", "ports_per_file = true"],
)  # fmt: skip
def test_a_wrong_value_is_refused_with_its_range(tmp_path: Path, line: str) -> None:
    with pytest.raises(BadHandoverSetting, match="from"):
        _settings(tmp_path, f"[handover]\n{line}\n")


def test_an_unknown_name_gets_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(UnknownHandoverSetting, match=r"handover\.least_probability"):
        _settings(tmp_path, "[handover]\nleast_prob = 0.9\n")
    with pytest.raises(BadHandoverSetting):
        _settings(tmp_path, "handover = 3\n")


def test_a_word_is_no_yes_or_no(tmp_path: Path) -> None:
    with pytest.raises(BadHandoverSetting, match="true or false"):
        _settings(tmp_path, "[handover]\nallow_checks = 'yes'\n")
