"""The table [survey] of programme.toml."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from dialtrue.domain.errors import BadSurveySetting, UnknownSurveySetting
from dialtrue.domain.survey.settings import SurveySettings
from dialtrue.files.survey_settings import survey_settings


def told(folder: Path, text: str) -> SurveySettings:
    (folder / "programme.toml").write_text(text, encoding="utf-8")
    return survey_settings(folder)


def test_silence_means_the_defaults(tmp_path: Path) -> None:
    assert survey_settings(tmp_path) == SurveySettings()
    assert told(tmp_path, 'timezone = "UTC"\n') == SurveySettings()


def test_every_setting_is_taken(tmp_path: Path) -> None:
    text = (
        '[survey]\ncheck_digit = "gs1"\nusual_share = 0.7\nlength_share = 0.6\nrare_share = 0.03\n'
        "least_class = 9\ndial_hours = 800\n"
        "us_flow_share = 0.4\nmost_dial_ratio = 50\nweight_leads = [1, 2, 5]\nfar_km = 5.5\nratio_tolerance = 0.01\n"
        "[survey.serial_length]\nturbine = 10\n"
    )
    assert told(tmp_path, text) == SurveySettings(
        {"": "gs1"}, {"turbine": 10}, 0.7, 0.6, 0.03, 9, 800, Fraction(2, 5), 50,
        (Fraction(1), Fraction(2), Fraction(5)), 5.5, 0.01,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("text", "error", "words"),
    [
        ("[survey]\nchek_digit = 'luhn'\n", UnknownSurveySetting, "survey.check_digit"),
        ("[survey.check_digit]\nturbin = 'luhn'\n", UnknownSurveySetting, "survey.check_digit.turbine"),
        ("[survey]\ncheck_digit = 'lune'\n", BadSurveySetting, "one of luhn"),
        ("[survey]\ncheck_digit = true\n", BadSurveySetting, "one of luhn"),
        ("[survey]\nserial_length = 0\n", BadSurveySetting, "1 to 60"),
        ("[survey]\nusual_share = 2\n", BadSurveySetting, "from 0.5 to 1"),
        ("[survey]\nfar_km = nan\n", BadSurveySetting, "without quotes"),
        ("[survey]\nfar_km = '50'\n", BadSurveySetting, "without quotes"),
        ("[survey]\nleast_class = 2.5\n", BadSurveySetting, "a whole number"),
        ("[survey]\nweight_leads = []\n", BadSurveySetting, "a list of numbers"),
        ("[survey]\nweight_leads = [0.5]\n", BadSurveySetting, "a list of numbers"),
        ("survey = 3\n", BadSurveySetting, "as a table"),
    ],
)
def test_what_is_wrong_is_named_with_what_to_write(
    tmp_path: Path, text: str, error: type[Exception], words: str
) -> None:
    with pytest.raises(error, match=words.replace("[", r"\[")):
        told(tmp_path, text)
