"""Which lead goes where, what is refused, and what a wiring may never be."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dialtrue.domain.planning.tamper import tamper_loop
from dialtrue.domain.pulse_chain.cable import NOT_KNOWN_CABLE, Cable
from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.input import NOT_KNOWN_INPUT
from dialtrue.domain.pulse_chain.margins import can_drive
from dialtrue.domain.pulse_chain.output import NOT_KNOWN_OUTPUT
from dialtrue.domain.pulse_chain.wire_ends import SheetLead
from dialtrue.domain.wiring.circuit import NotDrawn, Run, Wiring
from dialtrue.domain.wiring.ends import Connection
from dialtrue.domain.wiring.lay import side_by_side, wiring_of
from dialtrue.files.endpoint_sheets import load_hardware
from tests.support.wirings import every_wiring, own_output, sheets


def laid(
    output: str, entry: str, cable: str, *, tamper_loop: str | None = None, role: str = "single", port: int = 1
) -> Run:
    by = sheets()
    found = wiring_of(
        by.output(output), by.input(entry), by.cable(cable), tamper_loop=tamper_loop, role=role, port=port
    )
    assert isinstance(found, Wiring)
    return found.runs[0]


def path(run: Run, lead: str) -> str:
    """Return the conductor and terminal that a lead reaches."""
    wire = next(end for end in run.joint_of(lead).ends if end.startswith("conductor:"))
    terminal = run.joint_of(run.conductor(wire).end("endpoint")).ends[1]
    return f"{run.conductor(wire).colour} {terminal}"


def test_a_pair_is_drawn_exactly_where_the_fit_check_lets_it_count() -> None:
    for name, output, entry, cable, loop, found in every_wiring():
        drives = can_drive(Chain(output=output, input=entry, cable=cable))
        if drives == 0.0:
            assert isinstance(found, NotDrawn), name
            assert found.rule == "kinds", name
            assert "cannot drive" in found.reason, name
        elif loop is None:
            assert isinstance(found, Wiring), name


def test_every_refusal_gives_reason_and_what_next() -> None:
    refused = [found for *_, found in every_wiring() if isinstance(found, NotDrawn)]
    assert {found.rule for found in refused} == {"kinds", "tamper_loop", "conductors"}
    for found in refused:
        assert found.outcome == "refused"
        assert found.reason
        assert found.ask
        assert found.sentence.startswith("Not drawn: ")


def test_the_wired_loop_is_drawn_exactly_where_the_cable_has_wires_enough() -> None:
    need = {"two_wire": 4, "shared": 3}
    for name, output, entry, cable, loop, found in every_wiring():
        if loop == "wired" and can_drive(Chain(output=output, input=entry, cable=cable)) == 1.0:
            fits = cable.conductors >= need.get(entry.tamper_loop, 10_000)
            assert isinstance(found, Wiring) is fits, name


@pytest.mark.parametrize(
    ("output", "entry", "says"),
    [
        ("open-drain", "logic-3v", "an open drain output cannot drive a logic input without pull-up"),
        ("push-pull-3v", "two-wire-8v2", "an active output cannot drive a two-wire current input"),
        ("two-wire-sensor", "contact-3v-47k", "a two-wire current sensor cannot drive a contact input"),
        ("reed-contact", "two-wire-8v2", "a contact cannot drive a two-wire current input"),
    ],
)
def test_a_pair_that_cannot_count_is_refused_in_the_words_of_the_fit_check(output: str, entry: str, says: str) -> None:
    found = wiring_of(sheets().output(output), sheets().input(entry), sheets().cable("awg22-pair"))
    assert isinstance(found, NotDrawn)
    assert found.reason == says


def test_what_is_not_known_is_asked_for_by_name() -> None:
    by = sheets()
    known = (by.output("reed-contact"), by.input("contact-3v-47k"), by.cable("awg22-pair"))
    missing = (NOT_KNOWN_OUTPUT, NOT_KNOWN_INPUT, NOT_KNOWN_CABLE)
    for place, word in enumerate(("output", "input", "cable")):
        parts = [*known]
        parts[place] = missing[place]
        found = wiring_of(*parts)  # type: ignore[arg-type]
        assert isinstance(found, NotDrawn)
        assert found.outcome == "not_known"
        assert len(found.ask) == 1
        assert word in found.ask[0]
    assert len(wiring_of(*missing).ask) == 3  # type: ignore[union-attr]


def test_red_or_brown_goes_to_plus_where_nothing_else_decides() -> None:
    assert path(laid("open-drain", "contact-3v-1m", "awg22-four"), "lead:pulse+") == "red terminal:pulse+"
    assert path(laid("open-drain", "contact-3v-1m", "mm2-0-25-pair"), "lead:pulse+") == "brown terminal:pulse+"
    assert path(laid("open-drain", "contact-3v-1m", "awg24-pair"), "lead:pulse+") == "white/blue terminal:pulse+"


def test_a_lead_goes_to_the_conductor_of_its_own_colour_first() -> None:
    leads = (SheetLead("pulse+", "black"), SheetLead("pulse-", "red"))
    output = replace(sheets().output("open-drain"), leads=leads)
    found = wiring_of(output, sheets().input("contact-3v-1m"), sheets().cable("awg22-four"))
    assert isinstance(found, Wiring)
    assert path(found.runs[0], "lead:pulse+") == "black terminal:pulse+"
    assert path(found.runs[0], "lead:pulse-") == "red terminal:pulse-"


def test_the_first_pair_carries_the_pulse_wherever_its_conductors_stand() -> None:
    cable = Cable(key="mixed", conductors=4, colours=("white", "red", "green", "black"), pairs=(2, 1, 2, 1))
    found = wiring_of(sheets().output("open-drain"), sheets().input("contact-3v-1m"), cable)
    assert isinstance(found, Wiring)
    assert path(found.runs[0], "lead:pulse+") == "red terminal:pulse+"
    assert path(found.runs[0], "lead:pulse-") == "black terminal:pulse-"


def test_a_changeover_uses_the_contact_that_is_open_at_rest_and_caps_the_other() -> None:
    run = laid("changeover-contact", "contact-3v-47k", "awg22-pair")
    assert path(run, "lead:normally-open") == "red terminal:pulse+"
    assert path(run, "lead:common") == "black terminal:pulse-"
    assert run.joint_of("lead:normally-closed").kind == "cap"


def test_unused_conductors_and_spare_leads_are_capped_at_each_end() -> None:
    run = laid("open-drain", "contact-3v-47k", "awg22-four")
    for number in (3, 4):
        assert run.joint_of(f"conductor:{number}@meter").kind == "cap"
        assert run.joint_of(f"conductor:{number}@endpoint").kind == "cap"
    own = wiring_of(own_output(), sheets().input("contact-3v-47k"), sheets().cable("awg22-pair"))
    assert isinstance(own, Wiring)
    capped = {held.ends[0] for held in own.runs[0].connections if held.kind == "cap"}
    assert capped == {"lead:spare", "lead:spare-2", "lead:loop-1", "lead:loop-2"}


def test_the_loop_turns_back_in_a_splice_or_through_the_register_s_own_bridge() -> None:
    run = laid("open-drain", "contact-3v-1m", "awg22-four")
    assert run.tamper_loop == "wired"
    assert run.joint_of("conductor:3@meter").ends == ("conductor:3@meter", "conductor:4@meter")
    own = wiring_of(own_output(), sheets().input("contact-3v-1m"), sheets().cable("awg22-four"))
    assert isinstance(own, Wiring)
    assert own.runs[0].joint_of("lead:loop-1").ends == ("lead:loop-1", "conductor:3@meter")


def test_a_loop_that_cannot_be_wired_is_bridged_by_itself_and_said() -> None:
    found = wiring_of(sheets().output("reed-contact"), sheets().input("contact-3v-1m"), sheets().cable("awg22-pair"))
    assert isinstance(found, Wiring)
    assert found.runs[0].tamper_loop == "bridged"
    assert any("a cut cable raises no alarm" in warning for warning in found.warnings)


@pytest.mark.parametrize(
    ("entry", "loop", "says"),
    [("contact-3v-1m", "absent", "left open it alarms"), ("contact-3v-47k", "wired", "no tamper loop")],
)
def test_a_loop_that_cannot_be_left_so_is_refused(entry: str, loop: str, says: str) -> None:
    by = sheets()
    found = wiring_of(by.output("reed-contact"), by.input(entry), by.cable("awg22-four"), tamper_loop=loop)
    assert isinstance(found, NotDrawn)
    assert says in found.reason


@pytest.mark.parametrize(
    ("endpoint_loop", "port", "left"),
    [("none", 1, "absent"), ("per_endpoint", 1, "wired"), ("per_endpoint", 2, "absent"), ("per_port", 2, "wired")],
)
def test_a_port_has_a_loop_only_where_the_endpoint_has_its_terminals(endpoint_loop: str, port: int, left: str) -> None:
    by = sheets()
    parts = (by.output("reed-contact"), by.input("contact-3v-1m"), by.cable("awg22-four"))
    for asked in (None, "wired"):
        found = wiring_of(*parts, port=port, tamper_loop=asked, endpoint_loop=endpoint_loop)
        assert isinstance(found, Wiring)
        assert found.runs[0].tamper_loop == left
        assert any(item.function == "loop-out" for item in found.runs[0].terminals) is (left == "wired")


def test_what_the_plan_says_of_the_loop_can_be_drawn_for_every_shipped_endpoint() -> None:
    by = sheets()
    drawn = 0
    for endpoint in load_hardware().endpoints.values():
        entry = by.input(endpoint.input)
        for cable in by.cables.values():
            left = tamper_loop(
                endpoint_loop=endpoint.tamper_loop, input_loop=entry.tamper_loop, conductors=cable.conductors
            )
            for output in by.outputs.values():
                found = wiring_of(output, entry, cable, tamper_loop=left, endpoint_loop=endpoint.tamper_loop)
                assert isinstance(found, Wiring) or found.rule == "kinds", (endpoint.key, cable.key)
                drawn += isinstance(found, Wiring)
    assert drawn > 500


def test_a_screen_is_bonded_where_the_sheet_has_a_place_else_nowhere() -> None:
    bonded = laid("two-wire-sensor", "two-wire-8v2", "awg22-shielded")
    assert bonded.joint_of("screen@endpoint").ends == ("screen@endpoint", "terminal:screen")
    assert bonded.joint_of("screen@meter").kind == "cut-back"
    nowhere = laid("reed-contact", "contact-3v-47k", "awg22-shielded")
    assert {nowhere.joint_of(f"screen@{place}").kind for place in ("meter", "endpoint")} == {"cut-back"}


def test_a_compound_meter_keeps_each_register_on_its_own_port() -> None:
    by = sheets()
    parts = (by.output("reed-contact"), by.input("contact-3v-47k"), by.cable("awg22-pair"))
    low, high = (wiring_of(*parts, role=role, port=port) for role, port in (("low", 1), ("high", 2)))
    assert isinstance(low, Wiring)
    assert isinstance(high, Wiring)
    both = side_by_side([low, high])
    assert [(run.role, run.port) for run in both.runs] == [("high", 2), ("low", 1)]
    assert any("Two registers, two ports" in warning for warning in both.warnings)
    with pytest.raises(ValueError, match="its own port"):
        side_by_side([low, low])
    again = wiring_of(*parts, role="high", port=1)
    assert isinstance(again, Wiring)
    with pytest.raises(ValueError, match="its own port"):
        side_by_side([low, again])


@pytest.mark.parametrize("options", [{"role": "middle"}, {"port": 0}, {"tamper_loop": "open"}, {"endpoint_loop": "x"}])
def test_options_outside_their_lists_are_a_bug_of_the_caller(options: dict[str, object]) -> None:
    by = sheets()
    with pytest.raises(ValueError):
        wiring_of(by.output("reed-contact"), by.input("contact-3v-47k"), by.cable("awg22-pair"), **options)  # type: ignore[arg-type]


def changed(run: Run, old: Connection, *new: Connection) -> Run:
    """Return a run with one connection put in another way."""
    return replace(run, connections=(*(held for held in run.connections if held != old), *new))


def test_a_run_refuses_what_no_wiring_may_be() -> None:
    run = laid("open-drain", "s0-24v", "awg22-four-shielded")
    plus, spare = run.joint_of("conductor:2@endpoint"), run.joint_of("conductor:3@endpoint")
    crowded = Connection("terminal", "endpoint", ("conductor:2@endpoint", "conductor:3@endpoint", "terminal:pulse+"))
    others = tuple(held for held in run.connections if held not in (plus, spare))
    with pytest.raises(ValueError, match="not joined once each"):  # left hanging
        changed(run, plus)
    with pytest.raises(ValueError, match="not joined once each"):  # joined twice
        replace(run, connections=(*run.connections, Connection("cap", "endpoint", ("conductor:2@endpoint",))))
    with pytest.raises(ValueError, match="takes one wire"):  # two wires under one screw
        replace(run, connections=(*others, crowded))
    with pytest.raises(ValueError, match="terminals used"):  # a terminal that is not there
        changed(run, plus, Connection("terminal", "endpoint", ("conductor:2@endpoint", "terminal:pulse*")))
    with pytest.raises(ValueError, match="terminals used"):  # an empty pulse terminal
        changed(run, plus, Connection("cap", "endpoint", ("conductor:2@endpoint",)))


def test_turned_polarity_alone_is_refused() -> None:
    run = laid("open-drain", "contact-3v-47k", "awg22-pair")
    swap = {"terminal:pulse+": "terminal:pulse-", "terminal:pulse-": "terminal:pulse+"}
    turned = tuple(
        replace(held, ends=(held.ends[0], swap[held.ends[1]])) if held.kind == "terminal" else held
        for held in run.connections
    )
    with pytest.raises(ValueError, match="reaches"):
        replace(run, connections=turned)


def test_a_screen_bonded_at_both_ends_is_refused() -> None:
    run = laid("open-drain", "s0-24v", "awg22-shielded")
    ground = replace(run.terminals[-1], function="loop-out")
    with pytest.raises(ValueError, match="both ends"):
        replace(
            run,
            terminals=(*run.terminals, ground),
            connections=(
                *(held for held in run.connections if held.ends != ("screen@meter",)),
                Connection("terminal", "meter", ("screen@meter", "terminal:loop-out")),
            ),
        )
