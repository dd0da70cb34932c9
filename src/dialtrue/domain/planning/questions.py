"""What must be asked on site before a register can be planned: one question a cause."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

QUESTIONS: Final[dict[str, str]] = {
    "left_out": "{detail}",
    "survey": "{detail}",
    "same_register_twice": "Meter {detail} stands in two rows for the same register: photograph both plates.",
    "compound_one_row": "A compound meter has two registers and only one was surveyed: where is the other, what does "
    "its dial show, what weight has its output?",
    "compound_apart": "The two registers of this compound meter are surveyed for two mounts or two endpoints: they "
    "belong on one endpoint. Where will it sit?",
    "no_mount": "Where will the endpoint sit: wall, pole, pit or indoors?",
    "bad_dial": "What is one step of the last moving digit worth, and in which unit? The survey says {detail}.",
    "unit_differs": "The dial counts {detail}: photograph the dial and the label of the output.",
    "no_output": "Which pulse output has the register: contact, transistor, or current sensor? Test it, and photograph "
    "the label.",
    "unknown_output": "The survey names the output {detail}, which no data sheet describes: which one is it?",
    "unknown_cable": "The survey names the cable {detail}, which no data sheet describes: which one is it?",
    "unknown_input": "The survey names the input {detail}, which no data sheet describes: which one is it?",
    "unknown_endpoint": "The survey names the endpoint {detail}, which no data sheet describes: which one is it?",
    "no_length": "How long is the cable run from the register to the endpoint?",
    "no_size": "What size is the meter? It stands on the body or the plate.",
    "unknown_size": "The survey says meter size {detail}, which no table has: which size and which greatest flow stand "
    "on the plate?",
    "weight_not_offered": "The survey says {detail} a pulse, which no endpoint for this site can be keyed with: what "
    "does the label of the output say?",
    "unit_not_offered": "No endpoint for this site counts in {detail}: which unit stands on the dial?",
    "no_endpoint": "No endpoint on hand fits here ({detail}): can it sit elsewhere, or which endpoint is meant?",
    "compound_no_port": "Compound: second register has no port ({detail}): which endpoint with two ports is meant?",
    "needs_power": "Only an endpoint on mains or solar power counts this output: is there a supply where it sits?",
    "does_not_fit": "No endpoint or setting on hand counts this output surely ({detail}): has the register another "
    "output or another pulse weight?",
    "fit_unknown": "The fit check is not settled ({detail}): which figure does the sheet of the output give?",
}
"""Each cause with its question; ``detail`` is what the survey says. In the order in which they are asked."""


@dataclass(frozen=True, slots=True)
class Question:
    """One question, for how many registers it stands, and the first of their sites."""

    code: str
    text: str
    registers: int
    sites: tuple[str, ...]


def question_text(code: str, detail: str = "") -> str:
    """Return the question of a cause. KeyError where there is no such cause. Source: our own words."""
    return QUESTIONS[code].format(detail=detail)
