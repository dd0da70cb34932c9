"""One reader of settings: what is refused, by which name, with which words."""

from __future__ import annotations

import math

import pytest

from dialtrue.domain.errors import BadPlanSetting, UnknownPlanSetting
from dialtrue.files.setting_forms import SettingForms

FORMS = SettingForms(UnknownPlanSetting, BadPlanSetting, "mine.toml")


def test_an_unknown_name_is_refused_with_the_nearest_and_the_file():
    with pytest.raises(UnknownPlanSetting) as told:
        FORMS.table({"bilinng": 1}, ("billing", "cable"), "plan")
    assert told.value.facts == {"file": "mine.toml", "key": "plan.bilinng", "nearest": "plan.billing"}


def test_a_name_near_to_none_is_told_the_first_of_all_and_a_blank_table_has_no_prefix():
    with pytest.raises(UnknownPlanSetting) as told:
        FORMS.table({"zzz": 1}, ("rate", "about"), "")
    assert (told.value.facts["key"], told.value.facts["nearest"]) == ("zzz", "about, rate")


def test_what_is_no_table_is_refused():
    with pytest.raises(BadPlanSetting) as told:
        FORMS.table([1], ("rate",), "plan")
    assert told.value.facts["expected"] == "it as a table, [plan]"


@pytest.mark.parametrize("value", [True, "5", math.nan, math.inf, 11, None])
def test_a_number_is_finite_in_range_and_no_truth(value):
    with pytest.raises(BadPlanSetting, match=r"from 0 to 10"):
        FORMS.number("plan.x", value, 0, 10)


@pytest.mark.parametrize("value", [True, 5.0, 0, 1_000_001])
def test_a_whole_number_is_whole_in_range_and_no_truth(value):
    with pytest.raises(BadPlanSetting, match=r"from 1 to 1,000,000"):
        FORMS.whole("plan.x", value, 1, 1_000_000)


def test_what_has_its_form_is_given_back():
    assert (FORMS.number("k", 3, 0, 10), FORMS.whole("k", 3, 0, 10), FORMS.truth("k", False)) == (3.0, 3, False)
    with pytest.raises(BadPlanSetting, match="true or false"):
        FORMS.truth("k", 1)
