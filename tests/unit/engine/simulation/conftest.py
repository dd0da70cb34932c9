"""Small towns, and single ports whose water is known, for the tests of the simulation."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from dialtrue.engine.simulation.demand import UseCurve, calendar_over
from dialtrue.engine.simulation.places import RegisterSpec, town_registers
from dialtrue.engine.simulation.port import Fate, Port
from dialtrue.engine.simulation.sky import HOUR_S, Sky, sky_over
from dialtrue.engine.simulation.town import Town, TownPlan, build_town
from tests.support.known_water import DAYS, END_S, FACE, FIRST, FIRST_S, SETTING, draws


@pytest.fixture(scope="session")
def mixed_town() -> Town:
    """A town in which every code occurs."""
    return build_town(TownPlan(seed=11, registers=260, days=70, fault_share=0.5, units="mixed", dial_read_share=1.0))


@pytest.fixture(scope="session")
def sky() -> Sky:
    """The measured weather, moved to the window of these tests."""
    return sky_over(FIRST - dt.timedelta(days=5), FIRST + dt.timedelta(days=DAYS + 2), utc_offset_h=-6)


@pytest.fixture(scope="session")
def plain_spec() -> RegisterSpec:
    """A home's register of one gallon a pulse, fitted at the begin of the window."""
    calendar = calendar_over(
        FIRST.date(), 20, zone="America/Chicago", sky=sky_over(FIRST, FIRST + dt.timedelta(days=21))
    )
    specs = town_registers(
        np.random.SeedSequence(3).spawn(40),
        town_rng=np.random.default_rng(4),
        units="us",
        fit_midnight_s=calendar.midnight_s,
        fit_weekday=calendar.weekday,
        days=DAYS,
        read_interval_s=HOUR_S,
    )
    home = next(spec for spec in specs if spec.trade == "home")
    return replace(
        home,
        face=FACE,
        setting=SETTING,
        fitted_s=FIRST_S,
        dial_ul=1_000_000_000_000,
        phase_ul=0,
        garden=None,
        exchange="",
    )


@pytest.fixture(scope="session")
def port_of(plain_spec: RegisterSpec, sky: Sky) -> Callable[..., Port]:
    """Return a maker of ports that have counted rightly and await their fault."""

    def make(
        code: str,
        *,
        curve: UseCurve | None = None,
        onset_s: int = FIRST_S,
        severity: float = 0.5,
        spec: RegisterSpec | None = None,
    ) -> Port:
        own = plain_spec if spec is None else spec
        water = draws(minutes_apart=47, litres=21.0, flow_l_s=0.2) if curve is None else curve
        marks_s = np.arange(FIRST_S + 600, END_S, HOUR_S, dtype=np.int64)
        port = Port(
            own, Fate(code, onset_s, severity), water, sky, marks_s, END_S, own.setting, own.setting, own.dial_ul
        )
        port.read_dial_and_key()
        port.count()
        return port

    return make
