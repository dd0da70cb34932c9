"""Every wiring of the shipped sheets, and of sheets that show what the shipped ones do not."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Iterator
from dataclasses import replace

from dialtrue.domain.pulse_chain.cable import Cable
from dialtrue.domain.pulse_chain.input import Input
from dialtrue.domain.pulse_chain.output import Output
from dialtrue.domain.pulse_chain.wire_ends import SheetLead, SheetTerminal
from dialtrue.domain.wiring.circuit import NotDrawn, Wiring
from dialtrue.domain.wiring.lay import wiring_of
from dialtrue.files.sheets import Catalogue, shipped_catalogue

LOOPS = (None, "wired", "bridged", "absent")


@functools.cache
def sheets() -> Catalogue:
    """Return the shipped sheets."""
    return shipped_catalogue()


def own_output() -> Output:
    """Return a register that declares every lead it can have."""
    leads = (
        SheetLead("pulse+", "red"),
        SheetLead("pulse-", "black"),
        SheetLead("spare", "green"),
        SheetLead("spare", "white/green"),
        SheetLead("loop-1", "yellow"),
        SheetLead("loop-2", "grey"),
    )
    return replace(sheets().output("open-drain"), key="own-output", leads=leads)


def own_inputs() -> tuple[Input, ...]:
    """Return inputs with printed labels: a loop of its own pair, and one shared with the pulse."""
    base = sheets().input("contact-3v-1m")
    pulse = (SheetTerminal("pulse+", "P{port}+"), SheetTerminal("pulse-", "COM"))
    two = (SheetTerminal("loop-out", "TAMPER OUT 1"), SheetTerminal("loop-back", "TAMPER IN"), SheetTerminal("screen"))
    return (
        replace(base, key="own-two-wire", terminals=(*pulse, *two)),
        replace(
            base, key="own-shared", tamper_loop="shared", terminals=(SheetTerminal("loop-out", "T{port}"), *pulse[::-1])
        ),
    )


def own_cables() -> tuple[Cable, ...]:
    """Return a cable of ten striped conductors under a screen, and one of three of which the sheet says nothing."""
    colours = (
        "white/blue", "blue/white", "white/orange", "orange/white", "turquoise", "violet", "pink", "tan", "clear",
        "grey",
    )  # fmt: skip
    pairs = (2, 1, 2, 1, 3, 3, 4, 4, 5, 5)
    return (
        Cable(key="own-ten", conductors=10, colours=colours, pairs=pairs, screen=True),
        Cable(key="own-three", conductors=3),
    )


def every_case() -> Iterator[tuple[Output, Input, Cable, str | None]]:
    """Yield every output, input, cable and choice of the loop: the shipped ones, then with the own ones among them."""
    held = sheets()
    yield from itertools.product(held.outputs.values(), held.inputs.values(), held.cables.values(), LOOPS)
    outputs = (own_output(), held.output("changeover-contact"), held.output("reed-contact"))
    cables = (*own_cables(), held.cable("awg22-four"), held.cable("awg22-pair"))
    yield from itertools.product(outputs, own_inputs(), cables, LOOPS)


@functools.cache
def every_wiring() -> tuple[tuple[str, Output, Input, Cable, str | None, Wiring | NotDrawn], ...]:
    """Return every case with what was laid for it, under a name."""
    return tuple(
        (
            f"{output.key} on {entry.key} by {cable.key}, loop {loop}",
            output,
            entry,
            cable,
            loop,
            wiring_of(output, entry, cable, tamper_loop=loop),
        )
        for output, entry, cable, loop in every_case()
    )
