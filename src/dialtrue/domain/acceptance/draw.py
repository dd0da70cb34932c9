"""The draw: an order by SHA-256 that any other tool can make again, fair among strata; a fingerprint of the lot."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

Part = Literal["whole", "sample", "reserve", "replacement"]

_SEPARATOR: Final = "|"
_FRACTION_DIGITS: Final = 13
"""Hexadecimal digits of a hash that make the random start; a spreadsheet holds so many exactly."""


@dataclass(frozen=True, slots=True)
class LotSite:
    """A site of a lot. ``stratum`` is its crew and meter kind; ``whole`` marks one that is inspected in any case."""

    site: str
    stratum: str
    whole: bool = False


@dataclass(frozen=True, slots=True)
class DrawnSite:
    """A site with its place in the draw: ``position`` counts within ``part``, from 1, in the order of ``key``."""

    site: str
    stratum: str
    part: Part
    position: int
    key: str


def order_key(seed: str, lot: str, site: str) -> str:
    """Return what a site is ordered by: the SHA-256 of seed, lot and site, upright bars between them.

    Parameters
    ----------
    seed, lot, site : str
        As written; UTF-8.

    Returns
    -------
    str
        64 hexadecimal digits.

    Raises
    ------
    Never raises.

    Source
    ------
    ``FIPS-180-4`` for SHA-256. In a shell: ``printf '%s' 'SEED|LOT|SITE' | sha256sum``.

    Examples
    --------
    >>> order_key("heron 7", "C 2026-W13", "S12")[:16]
    '78d079e9cd81bd30'
    """
    return hashlib.sha256(_SEPARATOR.join((seed, lot, site)).encode()).hexdigest()


def random_start(seed: str, lot: str) -> Fraction:
    """Return the random start by which part sites are shared out among strata, 0 to below 1. Never raises.

    Source
    ------
    Our assumption: the first 13 hexadecimal digits of the SHA-256 of seed, lot and the word ``strata``.
    """
    return Fraction(int(order_key(seed, lot, "strata")[:_FRACTION_DIGITS], 16), 16**_FRACTION_DIGITS)


def shared_out(size: int, strata: Sequence[int], start: Fraction) -> list[int]:
    """Share a sample out among strata so that every site has the same chance.

    Parameters
    ----------
    size : int
        Sites to draw. [sites, 0 <= size <= sum of strata]
    strata : sequence of int
        Sites of each stratum. [sites]
    start : Fraction
        Random start. [-, 0 <= start < 1]

    Returns
    -------
    list of int
        Each is its exact share rounded down or up; over all starts it is the share on average.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition: whole numbers passed while the exact shares are added up from the start.

    Examples
    --------
    >>> shared_out(10, [50, 30, 20], Fraction(1, 3)), shared_out(5, [9, 1], Fraction(3, 5))
    ([5, 3, 2], [5, 0])
    """
    whole = sum(strata)
    if not whole:
        return [0] * len(strata)
    passed, before, result = 0, math.floor(start), []
    for count in strata:
        passed += count
        now = math.floor(start + Fraction(size * passed, whole))
        result.append(now - before)
        before = now
    return result


def draw(sites: Iterable[LotSite], *, seed: str, lot: str, size: int) -> list[DrawnSite]:
    """Draw a sample from a lot.

    Parameters
    ----------
    sites : iterable of LotSite
        The lot, each site once, in any order.
    seed : str
        Fixed and told to both sides before.
    lot : str
        Name of the lot, and of the round where it is drawn again.
    size : int
        Sites to draw besides those inspected whole; more than there are draws all. [sites, >= 0]

    Returns
    -------
    list of DrawnSite
        Every site of the lot: those inspected whole, the sample, then the reserve, each in the order of its key.

    Raises
    ------
    Never raises.

    Notes
    -----
    Within a stratum the sites with the least keys are drawn; how many is told by ``shared_out``. Over all seeds every
    site has the chance size / sites. The same seed, lot and sites always give the same sample.

    Source
    ------
    Definition; order by ``FIPS-180-4``.
    """
    everyone = list(sites)
    keys = {site.site: order_key(seed, lot, site.site) for site in everyone}
    strata: dict[str, list[LotSite]] = {}
    for site in sorted(everyone, key=lambda each: (each.stratum, keys[each.site], each.site)):
        if not site.whole:
            strata.setdefault(site.stratum, []).append(site)
    counts = [len(strata[name]) for name in sorted(strata)]
    quota = shared_out(min(size, sum(counts)), counts, random_start(seed, lot))
    parts: dict[Part, list[LotSite]] = {"whole": [site for site in everyone if site.whole], "sample": [], "reserve": []}
    for name, drawn in zip(sorted(strata), quota, strict=True):
        parts["sample"] += strata[name][:drawn]
        parts["reserve"] += strata[name][drawn:]
    return [
        DrawnSite(site.site, site.stratum, part, position, keys[site.site])
        for part, members in parts.items()
        for position, site in enumerate(sorted(members, key=lambda each: (keys[each.site], each.site)), start=1)
    ]


def fingerprint(sites: Iterable[LotSite]) -> str:
    """Return the SHA-256 of a lot as it was drawn from: one line a site, sorted, ``site|stratum|whole or drawn``.

    Parameters
    ----------
    sites : iterable of LotSite
        In any order.

    Returns
    -------
    str
        64 hexadecimal digits; a site that comes, goes or changes its stratum changes them.

    Raises
    ------
    Never raises.

    Source
    ------
    ``FIPS-180-4``.
    """
    lines = sorted(_SEPARATOR.join((site.site, site.stratum, "whole" if site.whole else "drawn")) for site in sites)
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()
