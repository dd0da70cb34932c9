"""The verdict as a sentence: what is said of each cause, of doubt, and of a setting no dial has proved."""

from __future__ import annotations

import datetime as dt

import pytest

from dialtrue.domain.faults import FAULTS
from dialtrue.services.verdict_words import routine_sentence, settled_sentence, sound_sentence, verdict_sentence

SINCE = dt.datetime(2025, 5, 3, tzinfo=dt.UTC)


@pytest.mark.parametrize("fault", FAULTS)
def test_every_cause_can_be_said_and_doubted(fault: str) -> None:
    said = verdict_sentence(fault, parameter=None, since=SINCE, dial_unit="gal", at_fitting=False)
    assert said[0].isupper()
    assert said.endswith("Since 3 May 2025.")
    doubted = verdict_sentence("sound", parameter=None, since=None, dial_unit="gal", at_fitting=False, doubt=fault)
    assert doubted.startswith("Probably counts true, but it may be that ")
    assert "  " not in doubted


def test_a_setting_that_no_dial_has_proved_says_so() -> None:
    proved, open_ = (
        verdict_sentence("weight_decade", parameter=10.0, since=None, dial_unit="gal", at_fitting=True, has_pair=pair)
        for pair in (True, False)
    )
    assert "10 times as far as the dial" in proved
    assert "no dial read yet" in open_
    assert "no dial read yet" not in proved


def test_an_offset_is_said_in_the_dial_unit() -> None:
    said = verdict_sentence("start_slip", parameter=-3785.411784, since=None, dial_unit="gal", at_fitting=True)
    assert "1,000 gal" in said
    assert "+" not in said


def test_a_quiet_port_says_whether_a_dial_stands_behind_it() -> None:
    assert sound_sentence(looked_at=True) == "Counts true."
    assert "reads alone" in sound_sentence(looked_at=False)


def test_a_look_for_its_own_sake_says_that_nothing_is_suspected() -> None:
    assert routine_sentence().startswith("No sign of a fault")


def test_what_was_put_right_says_when() -> None:
    assert settled_sentence("Counts each pulse twice.", SINCE).endswith("Found and put right on 3 May 2025.")
