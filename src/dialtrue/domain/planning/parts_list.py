"""The parts, tools and cable of one register, as a plan carries them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from fractions import Fraction

from dialtrue.domain.figures import decimal_places
from dialtrue.domain.hardware.endpoint import Endpoint
from dialtrue.domain.planning.settings import TOOLS_OF_SKILL


def parts_json(
    endpoint: Endpoint,
    *,
    mount: str,
    first: bool,
    tamper_loop: str,
    cable: str = "",
    run_m: str = "",
    skills: str = "",
) -> str:
    """Return the parts of one register as JSON.

    Parameters
    ----------
    endpoint : Endpoint
        Its data sheet.
    mount : str
        Where the endpoint sits; blank where not known.
    first : bool
        The register is on the endpoint's first port of the plan: its row carries the endpoint, its mount's parts and
        the tools.
    tamper_loop : str
        ``wired``, ``bridged`` or ``absent``.
    skills : str
        Skills of the visit, separated by spaces: some bring a tool.
    cable, run_m : str
        Cable sheet and surveyed run as text, without slack: the kit adds that. Either blank: no cable. [m]

    Returns
    -------
    str
        A list of ``{"part": key, "quantity": text}``; endpoint, cable and tools say their ``kind`` as well.

    Raises
    ------
    Never raises.

    Source
    ------
    The endpoint's sheet.
    """
    rows: list[dict[str, str]] = []
    counts: dict[str, Fraction] = {}

    def add(parts: Mapping[str, Fraction]) -> None:
        for part, quantity in parts.items():
            counts[part] = counts.get(part, Fraction(0)) + quantity

    if first:
        rows.append({"kind": "endpoint", "part": endpoint.key, "quantity": "1"})
        add(endpoint.parts_per_endpoint)
        add(endpoint.parts_per_mount.get(mount, {}))
    if cable and run_m:
        rows.append({"kind": "cable", "part": cable, "quantity": run_m})
    add(endpoint.parts_per_port)
    if first or endpoint.tamper_loop == "per_port":
        if tamper_loop == "wired":
            add(endpoint.parts_per_wired_loop)
        elif tamper_loop == "bridged":
            add(endpoint.parts_per_bridged_loop)
    rows += [{"part": part, "quantity": quantity_text(quantity)} for part, quantity in counts.items()]
    if first:
        of_skills = [tool for skill in skills.split() for tool in TOOLS_OF_SKILL.get(skill, ())]
        tools = dict.fromkeys([*endpoint.tools, *endpoint.tools_per_mount.get(mount, ()), *of_skills])
        rows += [{"kind": "tool", "part": tool, "quantity": "1"} for tool in tools]
    return json.dumps(rows, separators=(",", ":"), ensure_ascii=False)


def quantity_text(quantity: Fraction) -> str:
    """Return an exact quantity as text without grouping: "2", "0.5". Never raises; a third is cut at six places."""
    places = decimal_places(quantity)
    shown = min(6 if places is None else places, 6)
    return f"{quantity.numerator / quantity.denominator:.{shown}f}" if shown else str(round(quantity))
