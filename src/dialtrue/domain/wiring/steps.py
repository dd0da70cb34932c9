"""The wiring in words: steps in the order the hands work, and what must not be overlooked."""

from __future__ import annotations

from typing import Final, Literal

from dialtrue.domain.wiring.circuit import Run, Step
from dialtrue.domain.wiring.ends import ROLE_WORDS

BARE: Final = "about 6 mm (1/4 in)"
"""Bare end under a terminal. Source: ``CP-WIRING``."""
JUMPER: Final = "18 to 20 AWG (0.5 to 0.8 mm²)"
"""Size of the solid jumper. Source: ``CP-WIRING``; areas by ``ASTM-B258``: 0.518 and 0.823 mm²."""

_TESTS: Final = {
    "dry_contact": "find the two leads that go from open to closed on an ohmmeter while water runs",
    "changeover": "while water runs, two leads close to the third by turns: the third is common; of the two, "
    "the one most often open to it is normally open",
    "open_drain": "a diode test with red on pulse − and black on pulse + shows about 0.6 V, the other way nothing",
    "open_collector": "take polarity from the plate or the sheet; if neither says, ask before you wire",
    "s0_class_a": "take polarity from the marks + and − at the meter",
    "s0_class_b": "take polarity from the marks + and − at the meter",
    "push_pull": "against pulse −, pulse + stands at the high level and falls to 0 V for each pulse",
    "current_sensor": "take polarity from the plate or the sheet; if neither says, ask before you wire",
}
"""How the leads of each kind are told apart. Source: ``CP-WIRING``; ``CP-SEMICONDUCTOR`` for the diode."""

Basis = Literal["sheet", "common practice"]


def steps_of(runs: tuple[Run, ...]) -> tuple[Step, ...]:
    """Return the steps of one run, or of both of a compound meter, the high register first.

    Never raises.

    Source
    ------
    ``CP-WIRING``; each connection is the run's own.
    """
    return tuple(step for run in runs for step in _run_steps(run))


def _run_steps(run: Run) -> list[Step]:
    """Return the steps of one run."""
    found: list[Step] = []

    def say(text: str, basis: Basis = "common practice") -> None:
        found.append(Step(text=text, basis=basis, role=run.role))

    unknown = [lead.name for lead in run.leads if lead.sure != "declared"]
    how = _TESTS[run.output.kind]
    say(f"Identify the leads by test, not by colour: {how}." if unknown else f"Check the leads: {how}.")
    tag = f"{ROLE_WORDS[run.role].upper()}, PORT {run.port}"
    wires = "; number its conductors at both ends" if any(wire.sure != "declared" for wire in run.conductors) else ""
    say(f"Tag both ends of the cable {tag}{wires}. Leave two loops of slack, enough to lift the lid fully.")
    say("Clamp the cable at both ends, no weight on a splice. Let a drip loop hang below each entry.")
    say("Splices are gel-filled and sized for the wire, pulled by hand, pointing up, above flood line.")
    for text in meter_joints(run):
        say(text, "sheet")
    say(f"Strip {BARE}; the insulation butts the terminal and no bare wire shows outside it.")
    for text in endpoint_joints(run):
        say(text, "sheet")
    say("Screws finger-tight and a little more. Pull each wire: none may move.")
    if run.tamper_loop == "wired":
        say("Open the tamper loop on purpose: the alarm must come, and clear when it is closed again.")
    proof = "the index must count" if run.output.polarised else "the index must count; if not, look at the terminals"
    say(f"Draw water: {proof}" + ("; if not, look at the polarity." if run.output.polarised else "."))
    return found


def _said(run: Run, end: str) -> str:
    """Return a wire end in words."""
    if end.startswith("lead:"):
        return run.lead(end).said
    if end.startswith("conductor:"):
        return run.conductor(end).said
    if end.startswith("screen"):
        return "the screen"
    return f"the {end.partition('@')[0]}"


def meter_joints(run: Run) -> list[str]:
    """Return each joint and cap at the meter as a sentence; a conductor capped at both ends is said at the meter."""
    said = []
    for joint in run.connections:
        if joint.at != "meter":
            continue
        first, *others = (_said(run, end) for end in joint.ends)
        if joint.kind == "splice":
            turn = ": the tamper loop turns back here" if joint.ends[0].startswith("conductor:") else ""
            said.append(f"Splice {' and '.join([first, *others][:-1])} to {others[-1]}{turn}.")
        elif joint.kind == "cap" and first.startswith("conductor"):
            said.append(f"Cap {first} at both ends, do not cut it flush.")
        elif joint.kind == "cap":
            said.append(f"Cap {first}, do not cut it flush.")
    return said


def endpoint_joints(run: Run) -> list[str]:
    """Return each joint at the endpoint as a sentence."""
    said = []
    for joint in run.connections:
        if joint.at != "endpoint" or joint.kind == "cap" or joint.ends[0].startswith(("jumper", "screen")):
            continue
        words = [_said(run, end) for end in joint.ends if not end.startswith("terminal:")]
        if joint.kind == "splice":
            said.append(f"Splice {', '.join(words[:-1])} and {words[-1]} in one.")
        else:
            said.append(f"Put {words[0]} under {run.terminal(joint.ends[1]).said}.")
    if run.tamper_loop == "bridged":
        said.append(_bridge_said(run))
    if run.cable.screen:
        bonded = run.joint_of("screen@endpoint").kind == "terminal"
        said.append(
            f"Put the screen under {run.terminal('terminal:screen').said}; cut it back and insulate it at the meter."
            if bonded
            else "Cut the screen back and insulate it at both ends."
        )
    return said


def _bridge_said(run: Run) -> str:
    """Say where the jumper goes."""
    out = run.terminal("terminal:loop-out").said
    if run.input.tamper_loop == "shared":
        return f"Put the other end of the jumper, solid {JUMPER}, under {out}."
    back = run.terminal("terminal:loop-back").said
    return f"Bridge {out} to {back} with a solid jumper, {JUMPER}."


def warnings_of(runs: tuple[Run, ...]) -> tuple[str, ...]:
    """Return what must not be overlooked, each once.

    Never raises.

    Source
    ------
    ``CP-WIRING``; ``CP-SEMICONDUCTOR`` for polarity.
    """
    said: list[str] = []
    for run in runs:
        if run.output.polarised:
            said.append("Polarity matters: with its leads swapped this output does not count. Mark plus.")
        else:
            said.append("No polarity: the two leads of a contact may be swapped.")
        if run.output.kind == "changeover":
            said.append("Use one contact only: with both wired, each pulse counts twice.")
        sure = {lead.sure for lead in run.leads} | {wire.sure for wire in run.conductors}
        if "usual" in sure:
            said.append("Colours marked usual are common practice: check them against the cable in hand.")
        if any(not wire.colour for wire in run.conductors):
            said.append("The sheet of the cable names no colours: ring each conductor through and tag it.")
        if run.tamper_loop == "bridged":
            said.append("Bridged tamper loop: a cut cable raises no alarm. Write it down.")
        if run.cable.screen and run.joint_of("screen@endpoint").kind != "terminal":
            said.append("The sheet of the input names no place for the screen: ask. One end only, never both.")
        elif run.cable.screen:
            said.append("The screen is bonded at the endpoint only.")
    if len(runs) > 1:
        said.append(
            "Two registers, two ports: exchanged, each counts with the other's pulse weight. Tag before laying."
        )
    return tuple(dict.fromkeys(said))
