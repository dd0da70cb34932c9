"""The steps in words: their order, what they rest on, and the cautions."""

from __future__ import annotations

import pytest

from dialtrue.domain.wiring.circuit import Wiring
from dialtrue.domain.wiring.lay import side_by_side, wiring_of
from dialtrue.domain.wiring.said import connection_sentences, wiring_lines
from tests.support.wirings import every_wiring, sheets


def laid(output: str, entry: str, cable: str, *, role: str = "single", port: int = 1) -> Wiring:
    by = sheets()
    found = wiring_of(by.output(output), by.input(entry), by.cable(cable), role=role, port=port)
    assert isinstance(found, Wiring)
    return found


def test_steps_stand_in_the_order_the_hands_work() -> None:
    words = ("Identify", "Tag both ends", "Clamp", "Splices are", "Splice lead", "tamper loop turns", "Strip", "Put ",
             "finger-tight", "Open the tamper loop", "Draw water")  # fmt: skip
    told = [step.text for step in laid("open-drain", "contact-3v-1m", "awg22-four").steps]
    places = [next(place for place, text in enumerate(told) if word in text) for word in words]
    assert places == sorted(places)


def test_every_connection_is_a_step_from_the_sheet_and_the_rest_is_common_practice() -> None:
    for name, *_, found in every_wiring():
        if isinstance(found, Wiring):
            told = [step.text for step in found.steps if step.basis == "sheet"]
            assert told == connection_sentences(found), name
            assert len(set(told)) == len(told), name


def test_practice_says_the_bare_length_the_screw_the_pull_and_the_slack() -> None:
    told = " ".join(
        step.text for step in laid("reed-contact", "contact-3v-47k", "awg22-pair").steps if step.basis != "sheet"
    )
    for words in ("6 mm (1/4 in)", "no bare wire shows", "finger-tight", "Pull each wire", "two loops of slack",
                  "drip loop", "gel-filled", "no weight on a splice"):  # fmt: skip
        assert words in told, words


def test_a_sheet_that_is_silent_is_never_filled_in() -> None:
    told = " ".join(connection_sentences(laid("open-drain", "contact-3v-47k", "awg22-pvc-pair")))
    assert told.count("(by test)") == 6
    first = laid("open-drain", "contact-3v-47k", "awg22-pvc-pair").steps[0].text
    assert first.startswith("Identify the leads by test, not by colour")


@pytest.mark.parametrize(
    ("output", "entry", "cable", "says"),
    [
        ("open-drain", "contact-3v-47k", "awg22-pair", "Polarity matters"),
        ("two-wire-sensor", "two-wire-8v2", "awg22-pair", "Polarity matters"),
        ("reed-contact", "contact-3v-47k", "awg22-pair", "No polarity"),
        ("changeover-contact", "contact-3v-47k", "awg22-pair", "each pulse counts twice"),
        ("reed-contact", "contact-3v-47k", "awg22-shielded", "never both"),
        ("reed-contact", "s0-24v", "awg22-shielded", "bonded at the endpoint only"),
        ("reed-contact", "contact-3v-47k", "awg22-pair", "check them against the cable in hand"),
        ("reed-contact", "contact-3v-47k", "mm2-0-5-pair", "names no colours"),
        ("reed-contact", "contact-3v-1m", "awg22-pair", "a cut cable raises no alarm"),
    ],
)
def test_cautions_name_what_must_not_be_overlooked(output: str, entry: str, cable: str, says: str) -> None:
    assert any(says in warning for warning in laid(output, entry, cable).warnings)


def test_a_colour_read_in_a_standard_is_not_called_usual() -> None:
    told = " ".join(connection_sentences(laid("reed-contact", "contact-3v-47k", "mm2-0-25-pair")))
    assert "(brown)" in told
    assert "usually" not in told


def test_the_jumper_is_said_with_its_size() -> None:
    told = connection_sentences(laid("reed-contact", "contact-3v-1m", "awg22-pair"))
    assert (
        "Bridge terminal loop out of port 1 to terminal loop back of port 1 with a solid jumper, "
        "18 to 20 AWG (0.5 to 0.8 mm²)."
    ) in told


def test_lines_fit_the_terminal_and_number_each_register_from_one() -> None:
    wirings = [
        laid("reed-contact", "contact-3v-1m", "awg22-four", role=role, port=port)
        for role, port in (("low", 1), ("high", 2))
    ]
    both = side_by_side(wirings)
    lines = wiring_lines(both)
    assert max(map(len, lines)) <= 100
    assert max(map(len, wiring_lines(both, columns=60))) <= 60
    assert sum(line.startswith("  1. ") for line in lines) == 2
    assert lines.index("High register:") < lines.index("Low register:")


def test_a_refusal_is_one_sentence_on_the_terminal() -> None:
    by = sheets()
    found = wiring_of(by.output("open-drain"), by.input("logic-3v"), by.cable("awg22-pair"))
    assert wiring_lines(found)[0].startswith("Not drawn: an open drain output cannot drive a logic input")
