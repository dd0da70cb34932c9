"""What stands inside a QR code: plain words that any reader shows, and that a page can take apart again."""

from __future__ import annotations

from collections.abc import Sequence

from dialtrue.domain.words import printable


def code_text(*, site: str, meters: Sequence[str] = (), role: str = "", port: int | None = None, end: str = "") -> str:
    """Return the text of a QR code.

    Parameters
    ----------
    site : str
        The utility's id of the place.
    meters : sequence of str
        Meter serials.
    role, port, end : str, int or None, str
        Register role if it is not single, endpoint port, end of a cable.

    Returns
    -------
    str
        ``name=value`` joined by semicolons; in values ``%``, ``;`` and ``=`` are written ``%25``, ``%3B``, ``%3D``.

    Raises
    ------
    Never raises.

    Source
    ------
    Our own form.

    Examples
    --------
    >>> code_text(site="S-7;b", meters=("0042",), role="high", port=1)
    'site=S-7%3Bb;meter=0042;role=high;port=1'
    """
    pairs = [("site", site), *(("meter", serial) for serial in meters)]
    if role and role != "single":
        pairs.append(("role", role))
    if port is not None:
        pairs.append(("port", str(port)))
    if end:
        pairs.append(("end", end))
    return ";".join(f"{name}={_escaped(value)}" for name, value in pairs)


def _escaped(value: str) -> str:
    """Write the three marks that have a meaning as percent codes."""
    return printable(value).replace("%", "%25").replace(";", "%3B").replace("=", "%3D")
