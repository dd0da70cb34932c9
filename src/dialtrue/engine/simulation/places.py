"""The invented town: streets, premises, meters, crews and the order in which endpoints are fitted.

Every name here is invented. The coordinates lie on open water, so that no real street is ever meant.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dialtrue.engine.simulation.household import Home, home_from
from dialtrue.engine.simulation.meters import (
    METRIC_SIZE,
    SAFE_MAX_L_S,
    Face,
    Setting,
    compound_face,
    faces_for,
    sound_setting,
)
from dialtrue.engine.simulation.oddities import Oddity, oddity_from
from dialtrue.engine.simulation.premises import TRADE, TRADES, Garden, garden_from, trade_mean_l_day
from dialtrue.engine.simulation.sky import DAY_S
from dialtrue.engine.simulation.work_plan import SITES_PER_STREET, fit_times

TOWN_NAME = "Alderwick, an invented town"
_LATITUDE, _LONGITUDE = 39.5, -41.2
_STREETS = (
    "Bobbin Row", "Lantern Rise", "Saltbox Lane", "Tallow Street", "Heron Walk", "Quillmere Road", "Thimble Court",
    "Wickery Lane", "Old Sluice Road", "Pennywhistle Way", "Cinder Path", "Marlinspike Street", "Oatcake Hill",
    "Ferrule Street", "Rookery Bend", "Candlewick Close", "Stoneware Lane", "Drumlin Avenue", "Pewter Street",
    "Kettledrum Lane",
)  # fmt: skip
_MOUNTS, _MOUNT_SHARES = ("pit", "wall", "indoor", "pole"), (0.58, 0.24, 0.14, 0.04)
_SMALL_TYPES = ("nutating_disc", "oscillating_piston", "multi_jet", "single_jet")
ROLLING_SHARE = 0.02
"""Share of dials that roll over within the window, as they may. Our assumption."""


@dataclass(frozen=True, slots=True)
class RegisterSpec:
    """One register as it truly stands in the town, with the endpoint port that was meant for it.

    ``dial_ul`` is the volume that the dial holds at the fitting; ``phase_ul`` the volume since the last pulse [µL].
    """

    number: int
    site: str
    account: str
    address: str
    street: int
    latitude: float
    longitude: float
    mount: str
    meter_serial: str
    meter_type: str
    meter_size: str
    role: str
    max_flow_l_s: float
    face: Face
    setting: Setting
    trade: str
    scale: float
    home: Home | None
    garden: Garden | None
    endpoint_serial: str
    port: int
    fitted_s: int
    fitter: str
    cable_lot: str
    cable_length_m: float
    tamper_loop: str
    dial_ul: int
    phase_ul: int
    latch_s: int
    mean_l_day: float
    exchange: str
    oddity: Oddity | None = None


def _premises(rng: np.random.Generator, registers: int) -> list[str]:
    """Return the kind of each site; a compound meter takes two of the registers."""
    compounds = max(min(registers // 20, 4), round(0.012 * registers))
    singles = registers - 2 * compounds
    names = ["home", "garden", *(trade.name for trade in TRADES if trade.share)]
    shares = np.array([0.0, 0.02, *(trade.share for trade in TRADES if trade.share)])
    shares[0] = 1 - shares.sum()
    kinds = [str(name) for name in rng.choice(names, size=singles, p=shares)] + ["hospital"] * compounds
    return [kinds[place] for place in rng.permutation(len(kinds))]


def town_registers(
    seeds: list[np.random.SeedSequence],
    *,
    town_rng: np.random.Generator,
    units: str,
    fit_midnight_s: np.ndarray,
    fit_weekday: np.ndarray,
    days: int,
    read_interval_s: int,
    oddity_share: float = 0.3,
) -> list[RegisterSpec]:
    """Lay out the town.

    Parameters
    ----------
    seeds : list of SeedSequence, one a register
    town_rng : numpy Generator
        For what belongs to the whole town: kinds of premises, streets, the work plan.
    units : str
        ``us``, ``metric`` or ``mixed`` (street by street).
    fit_midnight_s, fit_weekday : arrays, shape (fitting days,)
        Local midnights [s since 1970, UTC] and weekdays of the days on which crews may work.
    days : int
        Length of the window, for holidays. [days]
    read_interval_s : int
        Reads are latched at a fixed place within this interval. [s]
    oddity_share : float
        Share of sites with a habit or an accident that imitates a fault. [0, 1]

    Returns
    -------
    list of RegisterSpec, in street order

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption throughout: an invented town.
    """
    kinds = _premises(town_rng, len(seeds))
    times = fit_times(town_rng, len(kinds), fit_midnight_s, fit_weekday)
    streets = -(-len(kinds) // SITES_PER_STREET)
    systems = [
        "metric" if units == "metric" or (units == "mixed" and street % 2) else "us" for street in range(streets)
    ]
    taste = [int(pick) for pick in town_rng.integers(0, 2**31, streets)]
    specs: list[RegisterSpec] = []
    for place, kind in enumerate(kinds):
        street = place // SITES_PER_STREET
        roles = ("high", "low") if kind == "hospital" else ("single",)
        shared = np.random.default_rng(seeds[len(specs)].spawn(1)[0])
        site = _site(shared, place, kind, systems[street], street, times[place], days, oddity_share)
        for port, role in enumerate(roles, start=1):
            number = len(specs)
            rng = np.random.default_rng(seeds[number].spawn(1)[0])
            specs.append(
                _register(rng, number, site, role, port, np.random.default_rng(taste[street]), days, read_interval_s)
            )
    return specs


@dataclass(frozen=True, slots=True)
class _Site:
    place: int
    kind: str
    system: str
    street: int
    fitted_s: int
    fitter: str
    mount: str
    size: str
    scale: float
    endpoint: int
    loop: str
    latch: float
    oddity: Oddity | None


def _site(
    rng: np.random.Generator,
    place: int,
    kind: str,
    system: str,
    street: int,
    fitted: tuple[int, str],
    days: int,
    oddity_share: float,
) -> _Site:
    """Draw what the registers of one site share."""
    if kind == "home":
        size = str(rng.choice(("5/8in", "3/4in", "1in"), p=(0.78, 0.17, 0.05)))
    elif kind == "garden":
        size = str(rng.choice(("1in", "1-1/2in", "2in")))
    else:
        size = TRADE[kind].size
    mount = str(rng.choice(_MOUNTS, p=_MOUNT_SHARES)) if kind in ("home", "garden", "shop") else "indoor"
    loop = str(rng.choice(("wired", "bridged", "absent"), p=(0.55, 0.2, 0.25)))
    scale = float(np.exp(rng.normal(-0.06, 0.35)))
    endpoint = 20_000_000 + place * 37 + int(rng.integers(0, 37))
    latch = float(rng.random())
    oddity = oddity_from(rng, kind, days, share=oddity_share)
    return _Site(place, kind, system, street, *fitted, mount, size, scale, endpoint, loop, latch, oddity)


def _register(
    rng: np.random.Generator,
    number: int,
    site: _Site,
    role: str,
    port: int,
    street_rng: np.random.Generator,
    days: int,
    read_interval_s: int,
) -> RegisterSpec:
    """Draw one register of a site. ``street_rng`` gives the street's usual face: eight in ten share it."""
    kind = site.kind
    if role != "single":
        face = compound_face(role, site.system)
        setting = Setting(face.digits, face.unit, face.resolution, face.pulse_weight, face.pulse_unit)
    else:
        faces = faces_for(site.size, site.system)
        usual = rng.random() < 0.8
        draw = street_rng if usual else rng
        face = faces[int(draw.integers(0, len(faces)))]
        setting = sound_setting(draw, face)
    size = METRIC_SIZE[site.size] if site.system == "metric" else site.size
    max_flow = SAFE_MAX_L_S[size]
    home = home_from(rng, days) if kind == "home" else None
    garden = None
    if kind == "garden" or (kind == "home" and rng.random() < 0.3) or (kind == "school" and rng.random() < 0.5):
        garden = garden_from(rng, max_flow_l_s=max_flow)
    if home is not None:
        mean = home.indoor_l_day
    elif kind == "garden":
        mean = 0.0
    else:
        mean = trade_mean_l_day(TRADE[kind], site.scale)
    if role != "single":
        mean *= 0.85 if role == "high" else 0.15
    lane = site.place % SITES_PER_STREET
    life_l = max(mean, 200.0) * float(rng.uniform(0.3, 15)) * 365
    meter_type = str(rng.choice(_SMALL_TYPES)) if site.size in ("5/8in", "3/4in", "1in") else "turbine"
    serial = 4_000_000 + (site.place * 7919) % 900_000
    exchange = str(rng.choice(("", "endpoint", "meter"), p=(0.98, 0.012, 0.008))) if role == "single" else ""
    return RegisterSpec(
        number=number,
        site=f"S{site.place + 1:05d}",
        account=f"A{100_000 + site.place * 13}",
        address=f"{2 * lane + 1 + site.street % 2} {_STREETS[site.street % len(_STREETS)]}"
        + (f" {site.street // len(_STREETS) + 1}" if site.street >= len(_STREETS) else ""),
        street=site.street,
        latitude=round(_LATITUDE + 0.0016 * site.street + 0.00002 * (lane % 2), 6),
        longitude=round(_LONGITUDE + 0.00022 * lane, 6),
        mount=site.mount,
        meter_serial=f"{serial:08d}",
        meter_type="compound" if role != "single" else meter_type,
        meter_size=size,
        role=role,
        max_flow_l_s=max_flow,
        face=face,
        setting=setting,
        trade=kind,
        scale=site.scale,
        home=home,
        garden=garden,
        endpoint_serial=str(site.endpoint),
        port=port,
        fitted_s=site.fitted_s,
        fitter=site.fitter,
        cable_lot=f"L{1 + (site.fitted_s // (7 * DAY_S) + site.street) % 5}",
        cable_length_m=round(float(rng.uniform(0.5, 4 if site.mount == "pit" else 15)), 1),
        tamper_loop=site.loop,
        dial_ul=_dial_at_fit(rng, face, life_l, mean * days),
        phase_ul=int(rng.random() * float(face.weight_l) * 1e6),
        latch_s=int(site.latch * min(read_interval_s, 3600)),
        mean_l_day=mean,
        exchange=exchange,
        oddity=site.oddity,
    )


def _dial_at_fit(rng: np.random.Generator, face: Face, life_l: float, window_l: float) -> int:
    """Return what a dial holds at the fitting [µL]; a few stand so high that they roll over within the window."""
    capacity_l = face.resolution_l * 10**face.digits
    rolls, place = rng.random() < ROLLING_SHARE, float(rng.uniform(0.2, 0.8))
    if rolls:
        life_l = float(capacity_l) - place * min(max(window_l, 1000.0), float(capacity_l) / 2)
    return int(life_l * 1e6) % int(capacity_l * 1_000_000)
