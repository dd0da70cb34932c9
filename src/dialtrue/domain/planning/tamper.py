"""The tamper loop: wired, bridged or not there, and what that costs."""

from __future__ import annotations

from typing import Final

LOOP_WIRES: Final = 4
"""Wires of a cable that carries a pulse pair and a loop of its own."""

_SILENT: Final = "a cut or pulled cable raises no alarm and shows only as an index that stands still"

TAMPER_NOTES: Final[dict[str, str]] = {
    "absent": f"This endpoint has no tamper loop: {_SILENT}.",
    "wired": "A cut or pulled cable raises an alarm. Open the loop on purpose at the proof: the alarm must come, and "
    "clear.",
    "bridged": "The cable has no wires for the loop: bridge its terminals with solid wire, 18 to 20 AWG (0.5 to "
    f"0.75 mm2), common practice. Then {_SILENT}.",
}
"""What each way to leave the loop costs."""


def tamper_loop(*, endpoint_loop: str, input_loop: str, conductors: int | None) -> str:
    """Return how the tamper loop is left.

    Parameters
    ----------
    endpoint_loop, input_loop : str
        ``tamper_loop`` of the endpoint's sheet and of its input's.
    conductors : int or None
        Wires of the cable; None where not known.

    Returns
    -------
    str
        ``absent`` where there is none, ``wired`` where the cable can carry it, else ``bridged``.

    Raises
    ------
    Never raises.

    Source
    ------
    Common practice, no source: a loop of its own takes two wires beside the pulse pair.

    Examples
    --------
    >>> tamper_loop(endpoint_loop="per_port", input_loop="two_wire", conductors=2)
    'bridged'
    """
    if endpoint_loop == "none":
        return "absent"
    if input_loop == "shared" or (conductors is not None and conductors >= LOOP_WIRES):
        return "wired"
    return "bridged"
