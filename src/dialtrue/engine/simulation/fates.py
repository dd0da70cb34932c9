"""Which port suffers what: the mix of faults, and who can have them."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from dialtrue.domain.faults import INNOCENT
from dialtrue.engine.simulation.places import RegisterSpec
from dialtrue.engine.simulation.port import Fate
from dialtrue.engine.simulation.sky import DAY_S

DEFAULT_MIX: dict[str, float] = {
    "dead_input": 8, "lost_counts": 6, "double_count": 4, "extra_counts": 5, "wet_counts": 6, "steady_counts": 4,
    "intermittent": 6, "weight_decade": 6, "unit_slip": 5, "digit_slip": 4, "start_slip": 10, "crossed": 6,
    "ports_swapped": 2, "duplicate_serial": 2, "meter_exchanged": 4, "stale_index": 5, "clock_shift": 4,
    "backflow_counted": 3, "index_reset": 4, "meter_reversed": 2, "port_unread": 1, "register_mismatch": 3,
    "customer_leak": 8, "vacant": 5, "use_change": 6,
}  # fmt: skip
"""Share of each code among the ports that are not sound.

Source: our assumption, in the order of the words frequent, regular, rare of common practice; no published mix was
found; override by ``TownPlan.faults``.
"""

ONSET_SPAN = (0.1, 0.75)
"""Where in the window a fate begins that does not hold from the fitting: our assumption; override by
``TownPlan.onset_span``."""

EXPORT_SHARE = 0.4
"""Share of towns with enough wrong settings in which two thirds of them are one changed export. Our assumption."""
EXPORT_RATIOS = (("weight_decade", 0.1), ("weight_decade", 0.001), ("unit_slip", 0.1337), ("unit_slip", 0.2642))
"""Codes and ratios of a changed export: only those that make the numbers smaller, so that they fit their digits."""

CLUSTER_SHAPE = 0.6
"""Shape of the spread between crews and between cable lots: in an audit ten of 36 readers made 71 % of the bad reads.
Our assumption; override by editing the constant."""
_BY_CREW = ("start_slip", "crossed", "weight_decade", "unit_slip", "digit_slip", "duplicate_serial", "meter_reversed")
_BY_LOT = ("wet_counts", "intermittent", "lost_counts", "extra_counts", "double_count")
HABIT_DAYS = 14
"""A customer's new habit begins this long before the window's end at the latest: what lasts a few days is none. [days;
our assumption]"""

_FROM_FIT = {
    "digit_slip", "start_slip", "ports_swapped", "duplicate_serial", "meter_reversed", "port_unread",
    "register_mismatch",
}  # fmt: skip
_MID_WINDOW = {"meter_exchanged", "index_reset", "stale_index"}
_FROM_FIT_SHARE = {
    "weight_decade": 0.85,
    "unit_slip": 0.85,
    "crossed": 0.85,
    "double_count": 0.8,
    "use_change": 0.3,
    "vacant": 0.35,
    "customer_leak": 0.25,
    "steady_counts": 0.5,
}
_PARTNERS = {"crossed": 2, "duplicate_serial": 2, "ports_swapped": 2}

_SUITS: dict[str, Callable[[RegisterSpec], bool]] = {
    "ports_swapped": lambda spec: spec.role == "high",
    "port_unread": lambda spec: spec.role != "single",
    "customer_leak": lambda spec: spec.trade == "home",
    "vacant": lambda spec: spec.trade == "home",
    "use_change": lambda spec: spec.trade in ("home", "restaurant", "laundry", "flats"),
    "wet_counts": lambda spec: spec.mount == "pit",
    "register_mismatch": lambda spec: spec.trade == "home",
    "backflow_counted": lambda spec: spec.trade in ("home", "shop", "office"),
    "crossed": lambda spec: spec.trade == "home",
    "duplicate_serial": lambda spec: spec.trade == "home",
}


def draw_fates(
    rng: np.random.Generator,
    specs: list[RegisterSpec],
    *,
    fault_share: float,
    mix: Mapping[str, float],
    start_s: int,
    end_s: int,
    innocent_share: float | None = None,
    onset_span: tuple[float, float] = ONSET_SPAN,
) -> dict[int, Fate]:
    """Choose the ports that are not sound.

    Parameters
    ----------
    rng : numpy Generator
    specs : list of RegisterSpec
    fault_share : float
        Share of the registers with a code other than ``sound``; a fault, where ``innocent_share`` is given. [0, 1]
    mix : mapping of code to weight
        Any positive weights; every code with a weight appears at least once where the share allows it and a register
        suits it, else codes are drawn by weight.
    start_s, end_s : int
        Window. [s since 1970]
    innocent_share : float or None
        Share of all registers with an innocent cause. None: the innocents stand in the mix. [0, 1]
    onset_span : tuple of two floats
        Where in the window a fate that does not hold from the fitting may begin. [0 to 1]

    Returns
    -------
    dict of register number to Fate; whoever is missing is sound

    Raises
    ------
    Never raises.

    Source
    ------
    ``DEFAULT_MIX``; onset and severity are drawn evenly: our assumption; override by another ``mix``.
    """
    fates: dict[int, Fate] = {}
    free = {spec.number for spec in specs}
    order = sorted(mix, key=lambda code: (code not in _SUITS, code not in _PARTNERS, code))
    shares = [(fault_share, mix)]
    if innocent_share is not None:
        shares = [
            (fault_share, {code: weight for code, weight in mix.items() if code not in INNOCENT}),
            (innocent_share, {code: weight for code, weight in mix.items() if code in INNOCENT}),
        ]
    quota: dict[str, int] = {}
    for share, part in shares:
        quota |= _quotas(rng, round(share * len(specs)), part)
    clusters = _clusters(rng, specs)
    _change_an_export(rng, specs, quota, fates, free, onset=(start_s, end_s, onset_span))
    for code in order:
        wanted = float(quota.get(code, 0))
        suits = _SUITS.get(code, lambda spec: spec.role == "single")
        candidates = [spec for spec in specs if suits(spec)]
        for place in _order_of(rng, candidates, clusters.get(code)):
            if wanted <= 0:
                break
            anchor = candidates[int(place)]
            group = _group(rng, code, anchor, specs, free)
            if group is None:
                continue
            wanted -= len(group) / _PARTNERS.get(code, len(group))
            free.difference_update(spec.number for spec in group)
            if code == "port_unread":
                free.discard(anchor.number + (1 if anchor.role == "high" else -1))  # the other side is read
            partners = tuple(spec.number for spec in group)
            latest_fit = max(spec.fitted_s for spec in group)
            onset = _onset(rng, code, latest_fit, start_s, end_s, onset_span)
            severity = float(rng.random())
            for spec in group:
                own = spec.fitted_s if onset <= latest_fit else onset
                fates[spec.number] = Fate(code, own, severity, partners)
    return fates


def _clusters(rng: np.random.Generator, specs: list[RegisterSpec]) -> dict[str, dict[str, float]]:
    """Return how prone each crew is to slips of the hand, and each cable lot to bad joints, by code and name."""
    crews = {name: float(rng.gamma(CLUSTER_SHAPE)) + 0.02 for name in sorted({spec.fitter for spec in specs})}
    lots = {name: float(rng.gamma(CLUSTER_SHAPE)) + 0.02 for name in sorted({spec.cable_lot for spec in specs})}
    return dict.fromkeys(_BY_CREW, crews) | dict.fromkeys(_BY_LOT, lots)


def _order_of(rng: np.random.Generator, candidates: list[RegisterSpec], prone: dict[str, float] | None) -> np.ndarray:
    """Return the order in which candidates are taken: by chance, the prone ones sooner."""
    if prone is None:
        return rng.permutation(len(candidates))
    weight = np.array([prone.get(spec.fitter, prone.get(spec.cable_lot, 1.0)) for spec in candidates])
    return np.argsort(rng.exponential(1.0, len(candidates)) / weight, kind="stable")


def _change_an_export(
    rng: np.random.Generator,
    specs: list[RegisterSpec],
    quota: dict[str, int],
    fates: dict[int, Fate],
    free: set[int],
    *,
    onset: tuple[int, int, tuple[float, float]],
) -> None:
    """In some towns, let many ports of one neighbourhood change their scale on one date: a file, not a wire."""
    code, ratio = EXPORT_RATIOS[int(rng.integers(0, len(EXPORT_RATIOS)))]
    many = quota.get(code, 0) * 2 // 3
    if rng.random() > EXPORT_SHARE or many < 4:
        return
    start_s, end_s, span = onset
    at_s = int(start_s + float(rng.uniform(*span)) * (end_s - start_s))
    first = int(rng.integers(0, len(specs)))
    near = [spec for spec in specs[first:] + specs[:first] if spec.role == "single" and spec.fitted_s < at_s]
    for spec in near[:many]:
        fates[spec.number] = Fate(code, at_s, 1.0, (spec.number,), ratio)
        free.discard(spec.number)
        quota[code] -= 1


def _quotas(rng: np.random.Generator, total: int, mix: Mapping[str, float]) -> dict[str, int]:
    """Return how many groups of each code: by weight, at least one of each where the total allows it, else drawn."""
    weight = sum(mix.values()) or 1.0
    codes = sorted(code for code in mix if mix[code] > 0)
    if total >= sum(_PARTNERS.get(code, 1) for code in codes):
        return {code: max(round(total * mix[code] / weight / _PARTNERS.get(code, 1)), 1) for code in codes}
    quota = dict.fromkeys(codes, 0)
    left = total
    while left > 0:
        open_codes = [code for code in codes if _PARTNERS.get(code, 1) <= left]
        if not open_codes:
            break
        # A group of two counts twice: the weights are shares of registers, not of groups.
        chance = np.array([mix[code] / _PARTNERS.get(code, 1) for code in open_codes])
        code = open_codes[int(rng.choice(len(open_codes), p=chance / chance.sum()))]
        quota[code] += 1
        left -= _PARTNERS.get(code, 1)
    return quota


def _group(
    rng: np.random.Generator, code: str, anchor: RegisterSpec, specs: list[RegisterSpec], free: set[int]
) -> list[RegisterSpec] | None:
    """Return the registers that share one fate with the anchor, or None if they are not all free."""
    if anchor.number not in free:
        return None
    if code == "ports_swapped":
        group = [anchor, specs[anchor.number + 1]]
    elif code in _PARTNERS:
        draw = rng.random()
        size = 2 if code != "crossed" or draw > 0.4 else 3 if draw > 0.13 else 4
        alike = code != "crossed" or rng.random() < 0.6
        near = [
            spec
            for spec in specs[anchor.number + 1 : anchor.number + 12]
            if spec.number in free
            and spec.trade == "home"
            and spec.street == anchor.street
            and spec.fitter == anchor.fitter
            and spec.fitted_s // DAY_S == anchor.fitted_s // DAY_S
            and (not alike or (spec.face == anchor.face and spec.setting == anchor.setting))
        ]
        group = [anchor, *near[: size - 1]]
        if len(group) < 2:
            return None
    else:
        group = [anchor]
    return group if all(spec.number in free for spec in group) else None


def _onset(
    rng: np.random.Generator, code: str, fitted_s: int, start_s: int, end_s: int, span: tuple[float, float]
) -> int:
    """Return when the fate begins: at the fitting, or somewhere in what will be read."""
    draw = float(rng.random())
    place = float(rng.uniform(*span))
    if code in _FROM_FIT or (code not in _MID_WINDOW and draw < _FROM_FIT_SHARE.get(code, 0.45)):
        return fitted_s
    first = max(fitted_s, start_s)
    onset_s = int(first + place * (end_s - first))
    if code in INNOCENT:
        onset_s = min(onset_s, max(end_s - HABIT_DAYS * DAY_S, first))
    return onset_s
