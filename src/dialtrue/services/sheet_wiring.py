"""Wiring drawings for job sheets: one for a register, one for the two of a compound meter, each drawn once."""

from __future__ import annotations

from collections.abc import Sequence

from dialtrue.domain.job_sheet.register_plan import RegisterPlan
from dialtrue.domain.job_sheet.sheet import WiringPart
from dialtrue.domain.pulse_chain.cable import NOT_KNOWN_CABLE
from dialtrue.domain.pulse_chain.input import NOT_KNOWN_INPUT
from dialtrue.domain.pulse_chain.output import NOT_KNOWN_OUTPUT
from dialtrue.domain.wiring.circuit import NotDrawn, Wiring
from dialtrue.domain.wiring.lay import side_by_side, wiring_of
from dialtrue.domain.wiring.said import connection_sentences
from dialtrue.files.endpoint_sheets import Hardware
from dialtrue.files.sheets import Catalogue
from dialtrue.files.wiring_picture import wiring_svg

Key = tuple[str, str, str, str, int, str, str]


class WiringDrawer:
    """Draws the wiring of a page's registers; the same wiring is laid and drawn once for a whole programme."""

    def __init__(self, catalogue: Catalogue, hardware: Hardware) -> None:
        self._catalogue = catalogue
        self._hardware = hardware
        self._drawn: dict[tuple[Key, ...], tuple[WiringPart, ...]] = {}

    def __call__(self, registers: Sequence[RegisterPlan]) -> tuple[WiringPart, ...]:
        """Return the drawings of one page, none where nothing is planned. Never raises."""
        keys = tuple(dict.fromkeys(_key(plan) for plan in registers if plan.port is not None))
        if keys not in self._drawn:
            self._drawn[keys] = self._parts(keys)
        return self._drawn[keys]

    def _parts(self, keys: tuple[Key, ...]) -> tuple[WiringPart, ...]:
        """Lay every run; those of one compound meter share a drawing."""
        alike = [key for key in keys if (*key[:4], *key[5:]) == (*keys[0][:4], *keys[0][5:])]
        if len(keys) > 1 and len(alike) == len(keys):  # two single meters on two ports: one drawing serves both
            ports = ", ".join(f"port {key[4]}" for key in keys[1:])
            same = f"Drawn for port {keys[0][4]}; {ports} is wired the same way, from the other meter."
            return (*self._parts(keys[:1]), WiringPart("", "", "", same))
        laid = [self._laid(key) for key in keys]
        refused = [item for item in laid if isinstance(item, NotDrawn)]
        good = [item for item in laid if isinstance(item, Wiring)]
        if len(good) > 1 and len({(run.role, run.port) for item in good for run in item.runs}) == len(good):
            roles = {run.role for item in good for run in item.runs}
            if roles == {"high", "low"}:
                good = [side_by_side(good)]
        notes = dict.fromkeys(item.sentence for item in refused)
        return (*(_part(item) for item in good), *(WiringPart("", "", "", note) for note in notes))

    def _laid(self, key: Key) -> Wiring | NotDrawn:
        """Lay one run from its data sheets."""
        output, entry, cable, role, port, loop, endpoint = key
        sheet = self._hardware.endpoints.get(endpoint)
        return wiring_of(
            self._catalogue.outputs.get(output, NOT_KNOWN_OUTPUT),
            self._catalogue.inputs.get(entry, NOT_KNOWN_INPUT),
            self._catalogue.cables.get(cable, NOT_KNOWN_CABLE),
            role=role,
            port=port,
            tamper_loop=loop or None,
            endpoint_loop=sheet.tamper_loop if sheet else None,
        )


def _key(plan: RegisterPlan) -> Key:
    """Return what a run is laid from."""
    return (
        plan.output, plan.input, plan.cable, plan.register_role, plan.port or 1, plan.tamper_loop, plan.endpoint,
    )  # fmt: skip


def _part(wiring: Wiring) -> WiringPart:
    """Draw one wiring, with the words for those who do not see it."""
    words = " ".join((*connection_sentences(wiring), *wiring.warnings))
    return WiringPart(wiring.title, wiring_svg(wiring, practice=False), words, "")
