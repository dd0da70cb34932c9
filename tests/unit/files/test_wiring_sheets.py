"""What a sheet may say of wires, and what is said about a sheet that says it wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from dialtrue.domain.errors import SheetFault
from dialtrue.domain.pulse_chain.wire_ends import SheetLead, SheetTerminal
from dialtrue.files.sheets import Catalogue, load_catalogue, shipped_catalogue

OURS = """schema = 1
[output.ours]
kind = "open_drain"
leads = [{ role = "pulse+", colour = "red" }, { role = "pulse-" }, { role = "spare", colour = "green/yellow" }]

[input.ours]
kind = "pull_up"
tamper_loop = "two_wire"
terminals = [
  { function = "pulse+", label = "P{port}+" },
  { function = "pulse-" }, { function = "loop-out" }, { function = "loop-back" }, { function = "screen" },
]

[cable.ours]
conductors = 4
colours = ["black", "red", "white", "green"]
pairs = [1, 1, 2, 2]
screen = true
confidence = { colours = "practice" }
"""


def load(tmp_path: Path, text: str) -> Catalogue:
    file = tmp_path / "ours.toml"
    file.write_text(text, encoding="utf-8")
    return load_catalogue([file])


def test_leads_terminals_and_colours_are_read(tmp_path: Path) -> None:
    held = load(tmp_path, OURS)
    leads = (SheetLead("pulse+", "red"), SheetLead("pulse-"), SheetLead("spare", "green/yellow"))
    assert held.output("ours").leads == leads
    assert held.input("ours").terminals[0] == SheetTerminal("pulse+", "P{port}+")
    assert held.cable("ours").pairs == (1, 1, 2, 2)
    assert held.cable("ours").screen is True
    assert held.cable("ours").usual == {"colours"}


@pytest.mark.parametrize(
    ("change", "line", "says"),
    [
        (('"red" }, { role = "pulse-" }', '"red" }'), 4, "add pulse-"),
        (('{ role = "pulse-" }', '{ role = "contact-1" }'), 4, "'contact-1' is not usable"),
        (('{ role = "pulse-" }', '{ role = "pulse-" }, { role = "pulse-" }'), 4, "each once"),
        (('{ role = "pulse-" }', '{ role = "pulse-" }, { role = "loop-1" }'), 4, "add loop-2"),
        (('colour = "red"', 'colour = "rde"'), 4, "a colour such as red"),
        (('"green/yellow"', '"green/yellow/red"'), 4, "one colour, or one with one stripe"),
        (('colour = "red"', "colour = 3"), 4, "is not a list such as"),
        (('{ role = "pulse+", colour = "red" }', '{ colour = "red" }'), 4, "is not a list such as"),
        (('{ function = "loop-back" }, ', ""), 9, "add loop-back"),
        (('{ function = "screen" }', '{ function = "aux" }'), 9, "'aux' is not usable"),
        (('"P{port}+"', '"PULSE INPUT NUMBER 1"'), 9, "at most 12 characters"),
        (('tamper_loop = "two_wire"', 'tamper_loop = "none"'), 9, "'loop-out' is not usable"),
        (('["black", "red", ', '["black", '), 16, "one for each of the 4 conductors"),
        (('["black", "red", ', '["black", "black", '), 16, "on one conductor only"),
        (('["black", "red", ', '["black", 4, '), 16, "is not a list of colours"),
        (("[1, 1, 2, 2]", "[1, 1, 1, 2]"), 17, "on two conductors"),
        (("[1, 1, 2, 2]", '["1", "1", "2", "2"]'), 17, "is not a list of whole numbers"),
        (("screen = true", 'screen = "foil"'), 18, "is not true or false"),
        (('colours = "practice"', 'colour = "practice"'), 19, "is no figure of this sheet"),
    ],
)
def test_fault_is_named_with_line_and_key(tmp_path: Path, change: tuple[str, str], line: int, says: str) -> None:
    assert change[0] in OURS
    with pytest.raises(SheetFault) as caught:
        load(tmp_path, OURS.replace(*change))
    told = caught.value.rendered()
    assert says in told
    assert f"line {line}," in told


def test_shipped_colours_rest_on_a_standard_or_are_called_usual() -> None:
    held = shipped_catalogue()
    for cable in held.cables.values():
        if cable.colours and "colours" not in cable.usual:
            assert cable.standard in ("DIN-47100", "TELEPHONE-PAIRS"), cable.key
    for output in held.outputs.values():
        assert not output.leads or "leads" in output.usual, output.key
    for entry in held.inputs.values():
        assert not any(terminal.label for terminal in entry.terminals), "no numbering of a product"
