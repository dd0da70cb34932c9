"""What bad sites have in common: looked at before anybody is blamed."""

from __future__ import annotations

from collections.abc import Sequence

Traits = tuple[tuple[str, str], ...]


def in_common(bad: Sequence[Traits], inspected: Sequence[Traits]) -> tuple[str, ...]:
    """Say what all bad sites share that most inspected ones do not.

    Parameters
    ----------
    bad, inspected : sequence of tuple
        Names and values of each site; the bad ones are among those inspected.

    Returns
    -------
    tuple of str
        Sentences; none where fewer than two are bad. A hint where to look, not a proof.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: what more than half of all inspected sites have too tells nothing.

    Examples
    --------
    >>> sites = [(("day", "Mon"),), (("day", "Tue"),), (("day", "Tue"),), (("day", "Wed"),), (("day", "Thu"),)]
    >>> in_common(sites[1:3], sites)
    ('All 2 bad sites have the day Tue, as 2 of 5 inspected have.',)
    """
    if len(bad) < 2:
        return ()
    said = []
    for name, value in bad[0]:
        if value and all((name, value) in each for each in bad):
            sharing = sum((name, value) in each for each in inspected)
            if 2 * sharing <= len(inspected):
                share = f"{sharing} of {len(inspected)} inspected have"
                said.append(f"All {len(bad)} bad sites have the {name} {value}, as {share}.")
    return tuple(said)
