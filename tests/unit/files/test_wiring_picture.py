"""The picture of every wiring, read back by a reader of its own and held against the sheets."""

from __future__ import annotations

import functools
import re
from collections import Counter

import pytest

from dialtrue.domain.pulse_chain.cable import Cable
from dialtrue.domain.pulse_chain.input import Input
from dialtrue.domain.pulse_chain.output import Output
from dialtrue.domain.pulse_chain.wire_ends import COLOURS
from dialtrue.domain.wiring.circuit import Wiring
from dialtrue.domain.wiring.lay import side_by_side, wiring_of
from dialtrue.domain.wiring.said import connection_sentences
from dialtrue.files.palette import WIRES
from dialtrue.files.wiring_list import wiring_html
from dialtrue.files.wiring_picture import wiring_svg
from tests.support.wiring_reader import (
    Drawing,
    DrawnRun,
    Net,
    joined_by_place,
    links_of,
    read_drawing,
    stroke_boxes,
    touches,
)
from tests.support.wirings import every_wiring, own_inputs, own_output, sheets

PLUS_LEAD = {"dry_contact": "lead:contact-1", "changeover": "lead:normally-open"}
MINUS_LEAD = {"dry_contact": "lead:contact-2", "changeover": "lead:common"}
DOTS = re.compile(r"[–-]")


@functools.cache
def drawings() -> tuple[tuple[str, Output, Input, Cable, Wiring, Drawing], ...]:
    """Every wiring that is drawn, with its picture read back."""
    return tuple(
        (name, output, entry, cable, laid, read_drawing(wiring_svg(laid)))
        for name, output, entry, cable, _, laid in every_wiring()
        if isinstance(laid, Wiring)
    )


@functools.cache
def compounds() -> tuple[tuple[str, Wiring, Drawing], ...]:
    """Both registers of compound meters, on cables and loops of every kind."""
    found = []
    by = sheets()
    for high, low in (("awg22-four", "awg22-pair"), ("awg22-four-shielded", "awg22-three")):
        for output in ("reed-contact", "changeover-contact", "open-drain"):
            wirings = [
                wiring_of(by.output(output), by.input("contact-3v-1m"), by.cable(cable), role=role, port=port)
                for role, port, cable in (("low", 1, low), ("high", 2, high))
            ]
            joined = side_by_side([item for item in wirings if isinstance(item, Wiring)])
            found.append((f"{output} by {high} and {low}", joined, read_drawing(wiring_svg(joined))))
    return tuple(found)


def every_drawing() -> list[tuple[str, Drawing]]:
    """Return every picture under its name."""
    return [(name, drawing) for name, *_, drawing in drawings()] + [(name, drawing) for name, _, drawing in compounds()]


def test_there_are_many_drawings_of_every_kind() -> None:
    kinds = {output.kind for _, output, *_ in drawings()}
    assert len(drawings()) > 1000
    assert kinds == {output.kind for output in sheets().outputs.values()}


def test_each_connection_is_drawn_once_and_is_the_one_laid() -> None:
    for name, *_, laid, drawing in drawings():
        (run,), (drawn,) = laid.runs, drawing.runs
        shown = Counter((joint.kind, joint.at, frozenset(joint.ends)) for joint in drawn.joints)
        assert shown == Counter((held.kind, held.at, frozenset(held.ends)) for held in run.connections), name


def test_wires_end_where_their_joints_stand() -> None:
    for name, drawing in every_drawing():
        for drawn in drawing.runs:
            told = Counter(
                (
                    joint.kind,
                    joint.at,
                    frozenset(
                        end
                        for other in drawn.joints  # spare conductors of a thick cable share one row and one cap
                        if other.box == joint.box
                        for end in other.ends
                        if not end.startswith("terminal:")
                    ),
                )
                for joint in drawn.joints
            )
            assert joined_by_place(drawn) == dict(told), name


def test_no_wire_runs_through_a_joint_of_another() -> None:
    for name, drawing in every_drawing():
        for drawn in drawing.runs:
            for wire in drawn.wires:
                for joint in drawn.joints:
                    if not set(wire.ends) & set(joint.ends):
                        assert not any(touches(box, joint.box) for box in stroke_boxes(wire)), (name, wire, joint)


def open_and_closed(drawn: DrawnRun, output: Output) -> tuple[Net, Net]:
    """Return the drawn circuit with the output open and closed."""
    contact = PLUS_LEAD.get(output.kind, "lead:pulse+"), MINUS_LEAD.get(output.kind, "lead:pulse-")
    return Net(links_of(drawn)), Net(links_of(drawn, closed=contact))


def test_the_contact_closes_the_loop_between_the_pulse_terminals_and_nothing_else_does() -> None:
    for name, output, *_, drawing in drawings():
        opened, closed = open_and_closed(drawing.runs[0], output)
        assert "terminal:pulse-" not in opened.reach("terminal:pulse+"), name
        assert "terminal:pulse-" in closed.reach("terminal:pulse+"), name


def test_polarity_is_never_inverted() -> None:
    for name, output, *_, drawing in drawings():
        opened, _ = open_and_closed(drawing.runs[0], output)
        assert PLUS_LEAD.get(output.kind, "lead:pulse+") in opened.reach("terminal:pulse+"), name
        assert MINUS_LEAD.get(output.kind, "lead:pulse-") in opened.reach("terminal:pulse-"), name


def test_the_tamper_loop_closes_only_through_its_own_pair_or_the_jumper() -> None:
    seen = Counter[str]()
    for name, output, entry, cable, _, drawing in drawings():
        (drawn,) = drawing.runs
        if entry.tamper_loop != "two_wire":
            continue
        _, net = open_and_closed(drawn, output)
        loop = net.reach("terminal:loop-out")
        own = own_loop(output)
        wires = {end.partition("@")[0] for end in loop if end.startswith("conductor:")}
        assert not any("pulse" in end for end in loop), name
        seen[drawn.loop] += 1
        if drawn.loop == "bridged":
            assert "terminal:loop-back" in loop, name
            assert not wires, name
            continue
        closed = Net([*links_of(drawn), *own])
        second = sorted(set(cable.pairs))[1] if cable.pairs else 0
        expected = {f"conductor:{number}" for number, pair in enumerate(cable.pairs, 1) if pair == second}
        across = closed.reach("terminal:loop-out")
        assert "terminal:loop-back" in across, name
        assert {end.partition("@")[0] for end in across if end.startswith("conductor:")} == expected, name
        for wire in expected:
            assert "terminal:loop-back" not in Net([*links_of(drawn, cut=wire), *own]).reach("terminal:loop-out"), name
    assert seen["wired"] > 20
    assert seen["bridged"] > 100


def own_loop(output: Output) -> list[tuple[str, ...]]:
    """Return the bridge inside a register that has one."""
    return [("lead:loop-1", "lead:loop-2")] if output.leads and output.key == own_output().key else []


def test_a_shared_loop_closes_over_the_pulse_wire_that_comes_back() -> None:
    for name, output, entry, _, _, drawing in drawings():
        if entry.tamper_loop == "shared":
            (drawn,) = drawing.runs
            opened, _ = open_and_closed(drawn, output)
            reached = opened.reach("terminal:loop-out")
            assert "terminal:pulse-" in reached, name
            assert "terminal:pulse+" not in reached, name
            third = next((joint for joint in drawn.joints if "terminal:loop-out" in joint.ends), None)
            assert third is not None
            if drawn.loop == "wired":
                cut = third.ends[0].partition("@")[0]
                assert "terminal:pulse-" not in Net(links_of(drawn, cut=cut)).reach("terminal:loop-out"), name


def test_the_screen_is_bonded_at_one_end_at_most_and_never_to_a_pulse() -> None:
    bonded = 0
    for name, *_, cable, _, drawing in drawings():
        (drawn,) = drawing.runs
        screen = Net(links_of(drawn)).reach("screen@endpoint")
        held = [joint for joint in drawn.joints if any(end.startswith("screen@") for end in joint.ends)]
        assert len(held) == (2 if cable.screen else 0), name
        assert [joint.kind for joint in held if joint.at == "meter"] == ["cut-back"] * cable.screen, name
        assert screen <= {"screen@endpoint", "screen@meter", "terminal:screen"}, name
        bonded += "terminal:screen" in screen
    assert bonded > 20


def test_every_colour_is_the_sheet_s_and_stands_in_words() -> None:
    for name, output, _, cable, _, drawing in drawings():
        (drawn,) = drawing.runs
        words = " | ".join(said for said, _ in drawing.texts)
        bundled = "cap each" in words
        for wire in drawn.wires:
            end = wire.ends[0]
            if end.startswith("conductor:"):
                number = int(end.partition("@")[0].removeprefix("conductor:"))
                declared = cable.colours[number - 1] if cable.colours else ""
                shown = (
                    f"{number} · {'usually ' if 'colours' in cable.usual and declared else ''}{declared or 'by test'}"
                )
                assert shown in words or bundled, name
            elif end.startswith("lead:") and output.leads:
                declared = {lead.colour for lead in output.leads if end.startswith(f"lead:{lead.role}")}.pop()
                assert declared in words, name
                if not end.startswith("lead:spare"):
                    assert wire.colour == declared, name
                continue
            elif end.startswith("lead:"):
                declared = ""
            else:
                continue
            assert wire.colour == declared, name
            ground = declared.partition("/")[0]
            if ground and not bundled:
                assert WIRES[ground] in wire.strokes, name
            assert wire.strokes[0] == "#1b1f23", "outlined, so that a light wire shows on white"


def test_no_two_conductors_of_a_cable_look_the_same_without_colour() -> None:
    svg = wiring_svg(side_by_side([four()]))
    looks = re.findall(r'data-wire="conductor:(\d)[^>]*>(.*?)</g>', svg)
    dashes = {number: tuple(re.findall(r'stroke-dasharray="([^"]+)"', marks)) for number, marks in looks}
    assert len(dashes) == 4
    assert len(set(dashes.values())) == 4


def four() -> Wiring:
    """Return a wiring on four conductors."""
    laid = wiring_of(sheets().output("open-drain"), sheets().input("contact-3v-1m"), sheets().cable("awg22-four"))
    assert isinstance(laid, Wiring)
    return laid


def test_no_two_texts_touch_and_none_leaves_the_page() -> None:
    for name, drawing in every_drawing():
        page = (0.0, 0.0, drawing.width, drawing.height)
        for place, (words, box) in enumerate(drawing.texts):
            assert min(box[0] - page[0], box[1] - page[1], page[2] - box[2], page[3] - box[3]) >= 0.0, (name, words)
            for other, taken in drawing.texts[place + 1 :]:
                assert not touches(box, taken), (name, words, other)


def test_no_text_lies_on_a_wire_or_a_joint() -> None:
    for name, drawing in every_drawing():
        marks = [box for run in drawing.runs for wire in run.wires for box in stroke_boxes(wire)]
        marks += [joint.box for run in drawing.runs for joint in run.joints]
        for words, box in drawing.texts:
            assert not any(touches(box, mark) for mark in marks), (name, words)


def test_text_stays_large_enough_to_read() -> None:
    for name, output, entry, cable, loop, laid in every_wiring():
        if isinstance(laid, Wiring):
            sizes = [float(size) for size in re.findall(r'font-size="([0-9.]+)"', wiring_svg(laid))]
            assert min(sizes) >= 2.4, (name, output.key, entry.key, cable.key, loop)


def test_it_is_as_wide_as_the_sheet_and_not_too_tall() -> None:
    heights = [drawing.height for *_, drawing in drawings()]
    assert {drawing.width for *_, drawing in drawings()} == {170.0}
    shipped = [drawing.height for name, *_, drawing in drawings() if "own-" not in name]
    plain = [drawing.height for name, *_, drawing in drawings() if "loop absent" in name and "shielded" not in name]
    assert min(heights) > 50
    assert min(plain) < 67
    assert max(shipped) < 112


def parsed(sentences: str) -> Counter[tuple[str, frozenset[str]]]:
    """Return the connections that sentences tell; names are turned back to ids."""

    def wire_id(words: str) -> str:
        kind, _, rest = words.strip().partition(" ")
        rest = re.sub(r" \([^)]*\)", "", rest)
        return f"{kind}:{rest.replace('−', '-').replace(' ', '-')}"

    found: Counter[tuple[str, frozenset[str]]] = Counter()
    lead, wire = r"(lead [^()]*\([^)]*\))", r"(conductor \d+ \([^)]*\))"
    for first, second in re.findall(rf"Splice {lead} to {wire}\.", sentences):
        found["splice", frozenset({wire_id(first), wire_id(second)})] += 1
    for one, two, three in re.findall(rf"Splice {lead} and {wire} to {wire}\.", sentences):
        found["splice", frozenset({wire_id(one), wire_id(two), wire_id(three)})] += 1
    for one, two in re.findall(r"Splice (conductor [^.]*?\)) to (conductor [^.]*?\)): the tamper loop", sentences):
        found["splice", frozenset({wire_id(one), wire_id(two)})] += 1
    for first, second in re.findall(r"Put (conductor \d+ \([^)]*\)) under (terminal .*?) of port", sentences):
        found["terminal", frozenset({wire_id(first), wire_id(second)})] += 1
    for spare in re.findall(rf"Cap {lead}, do not", sentences):
        found["cap", frozenset({wire_id(spare)})] += 1
    for spare in re.findall(rf"Cap {wire} at both ends", sentences):
        found["cap", frozenset({wire_id(spare)})] += 2
    return found


def test_the_words_tell_the_same_circuit_as_the_picture() -> None:
    for name, _, entry, _, laid, drawing in drawings():
        if entry.tamper_loop == "shared" and laid.runs[0].tamper_loop == "bridged":
            continue  # its tail has no colour and no number: said in sentences of its own
        drawn: Counter[tuple[str, frozenset[str]]] = Counter()
        for joint in drawing.runs[0].joints:
            ends = frozenset(end.partition("@")[0].replace("terminal:", "terminal:") for end in joint.ends)
            if not any(end.startswith(("screen", "jumper")) for end in ends):
                # the pulse terminals are said with the sign apart
                said = frozenset(re.sub(r"^((?:lead|terminal):pulse)([+-])$", r"\1-\2", end) for end in ends)
                drawn[joint.kind, said] += 1
        assert parsed(drawing.description) == drawn, name
        assert drawing.description.startswith(" ".join(connection_sentences(laid))), name


def test_a_compound_meter_shows_the_high_register_first_each_with_its_port() -> None:
    for name, _, drawing in compounds():
        assert [(run.role, run.port) for run in drawing.runs] == [("high", 2), ("low", 1)], name
        words = [said for said, _ in drawing.texts]
        assert "tag HIGH REGISTER, PORT 2" in words
        assert "Endpoint, port 1" in words


def test_it_holds_nothing_that_a_typesetter_does_not_know() -> None:
    for name, _, entry, _, laid, _ in drawings():
        svg = wiring_svg(laid).replace("http://www.w3.org/2000/svg", "")
        assert not re.search(r"var\(|currentColor|<style|url\(|http|@font-face|<script", svg), (name, entry.key)


def test_every_colour_name_has_a_colour() -> None:
    assert set(WIRES) == set(COLOURS)


def test_the_page_lists_each_step_once_and_escapes() -> None:
    laid = four()
    page = wiring_html(laid)
    assert page.count("<li>") == len(laid.steps) + len(laid.warnings)
    assert page.count("(common practice)") == sum(step.basis == "common practice" for step in laid.steps)
    assert "<svg" not in wiring_html(laid, picture=False)
    refused = wiring_of(sheets().output("open-drain"), sheets().input("logic-3v"), sheets().cable("awg22-pair"))
    assert "cannot drive" in wiring_html(refused)
    assert "<svg" not in wiring_html(refused)


def test_a_label_is_escaped_and_shown() -> None:
    laid = wiring_of(own_output(), own_inputs()[0], sheets().cable("awg22-four"), port=2)
    assert isinstance(laid, Wiring)
    words = [said for said, _ in read_drawing(wiring_svg(laid)).texts]
    assert "printed P2+" in words


@pytest.mark.parametrize("practice", [True, False])
def test_practice_can_be_left_to_the_page(practice: bool) -> None:
    drawing = read_drawing(wiring_svg(four(), practice=practice))
    assert any(words == "Common practice" for words, _ in drawing.texts) is practice
