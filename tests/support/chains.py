"""Chains to try the fit check on: one that is whole, and random ones."""

from __future__ import annotations

import dataclasses
from typing import Any

from hypothesis import strategies as st

from dialtrue.domain.pulse_chain.cable import Cable, awg_ohm_per_km
from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.corners import Spread
from dialtrue.domain.pulse_chain.input import Input
from dialtrue.domain.pulse_chain.output import OUTPUT_KINDS, Output

GAL_L = 3.785411784

REED = Output(
    key="reed",
    kind="dry_contact",
    closed_ohm=Spread(0.05, 0.1, 1.0),
    off_leak_ua=0.0,
    closed_share=Spread.exactly(0.2),
    bounce_ms=5.0,
)
CONTACT_INPUT = Input(
    key="contact",
    kind="pull_up",
    supply_v=Spread.exactly(3.0),
    pull_up_ohm=Spread.exactly(47_000.0),
    closed_below=0.9,
    open_above=2.1,
    hysteresis_v=0.2,
    capacitance_pf=100.0,
    debounce_ms=25.0,
    max_rate_hz=20.0,
)
PAIR = Cable(key="pair", ohm_per_km=awg_ohm_per_km(22), capacitance_pf_per_m=66.0)


def chain_of(**changes: Any) -> Chain:
    """A two-inch meter on a reed, 10 m of pair, that fits; ``output``, ``input``, ``cable`` take dicts of changes."""
    parts: dict[str, Any] = {"output": REED, "input": CONTACT_INPUT, "cable": PAIR}
    given: dict[str, Any] = {"length_m": 10.0, "weight_l": GAL_L, "max_flow_lpm": 160 * GAL_L}
    for name, value in changes.items():
        if name in parts and isinstance(value, dict):
            given[name] = dataclasses.replace(parts[name], **value)
        else:
            given[name] = value
    return Chain(**(parts | given))


def _maybe(numbers: st.SearchStrategy[float]) -> st.SearchStrategy[float | None]:
    return st.one_of(numbers, numbers, numbers, numbers, st.none())


def _number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, allow_subnormal=False)


@st.composite
def _spread(draw: st.DrawFn, low: float, high: float) -> Spread | None:
    if draw(st.integers(0, 9)) == 0:
        return None
    ends = sorted(draw(st.lists(_number(low, high), min_size=3, max_size=3)))
    return Spread(*ends)


@st.composite
def outputs(draw: st.DrawFn) -> Output:
    fixed = draw(st.booleans())
    return Output(
        key=draw(st.sampled_from(["a", "b"])),
        kind=draw(st.sampled_from(list(OUTPUT_KINDS))),
        closed_ohm=draw(_spread(0.01, 5_000.0)),
        open_ohm=draw(st.one_of(st.none(), _spread(5_000.0, 1e6))),
        saturation_v=draw(st.sampled_from([0.0, 0.1, 0.4, 5.0])),
        high_v=draw(_spread(1.0, 5.0)),
        off_leak_ua=draw(_maybe(_number(0.0, 200.0))),
        closed_share=None if fixed else draw(_spread(0.05, 0.95)),
        closed_ms=draw(_spread(5.0, 200.0)) if fixed else None,
        bounce_ms=draw(_maybe(_number(0.0, 20.0))),
        open_bounce_ms=draw(st.sampled_from([0.0, 3.0, 30.0])),
        min_ma=draw(st.one_of(st.none(), _number(0.0, 10.0))),
        max_v=draw(st.one_of(st.none(), _number(1.0, 30.0))),
        max_line_ohm=draw(st.one_of(st.none(), _number(1.0, 100.0))),
        min_insulation_ohm=draw(st.one_of(st.none(), st.just(1e6))),
        doubtful=draw(st.sampled_from([frozenset(), frozenset({"closed_ms", "min_ma"}), frozenset({"off_leak_ua"})])),
    )


@st.composite
def inputs(draw: st.DrawFn) -> Input:
    unit = draw(st.sampled_from(["V", "share", "mA"]))
    low, high = {"V": (0.9, 2.1), "share": (0.3, 0.7), "mA": (2.1, 1.2)}[unit]
    return Input(
        key=draw(st.sampled_from(["a", "b"])),
        kind=draw(st.sampled_from(["pull_up", "pull_up", "voltage", "current", "not_known"])),
        supply_v=draw(_spread(2.0, 9.0)),
        pull_up_ohm=draw(_spread(900.0, 2e6)),
        closed_below=draw(_maybe(st.just(low))),
        open_above=draw(_maybe(st.just(high))),
        threshold_unit=unit,
        threshold_spread_v=draw(st.sampled_from([0.0, 0.1])),
        hysteresis_v=draw(_maybe(_number(0.0, 0.3))),
        capacitance_pf=draw(_maybe(_number(0.0, 1e5))),
        leakage_ua=draw(st.sampled_from([0.0, 0.5])),
        scheme=draw(st.sampled_from(["continuous", "sampled"])),
        sample_period_ms=draw(_maybe(_number(1.0, 100.0))),
        sample_jitter_ms=draw(st.sampled_from([0.0, 1.0])),
        samples_to_confirm=draw(st.integers(1, 3)),
        pull_up_on_ms=draw(st.one_of(st.none(), _number(0.1, 5.0))),
        debounce_ms=draw(_maybe(_number(0.0, 200.0))),
        open_debounce_ms=draw(st.one_of(st.none(), _number(0.0, 100.0))),
        min_on_ms=draw(st.one_of(st.none(), _number(0.0, 100.0))),
        min_off_ms=draw(st.one_of(st.none(), _number(0.0, 100.0))),
        max_rate_hz=draw(_maybe(st.one_of(_number(0.5, 100.0), st.just(float("inf"))))),
        edges=draw(st.sampled_from(["one", "one", "both"])),
        max_v=draw(st.one_of(st.none(), _number(1.0, 10.0))),
        tamper_loop=draw(st.sampled_from(["none", "two_wire"])),
        capacity_mah=draw(_maybe(_number(0.0, 20_000.0))),
        base_ua=draw(_maybe(_number(0.0, 50.0))),
        self_discharge_share=draw(_maybe(_number(0.0, 0.05))),
        sends_per_day=draw(st.sampled_from([0.0, 6.0])),
        send_mah=0.01,
    )


@st.composite
def cables(draw: st.DrawFn) -> Cable:
    return Cable(
        key=draw(st.sampled_from(["a", "b"])),
        ohm_per_km=draw(_maybe(_number(5.0, 400.0))),
        capacitance_pf_per_m=draw(_maybe(_number(30.0, 300.0))),
        insulation_mohm_km=draw(st.one_of(st.none(), _number(0.001, 100.0))),
        conductors=draw(st.sampled_from([2, 4])),
    )


@st.composite
def chains(draw: st.DrawFn) -> Chain:
    return Chain(
        output=draw(outputs()),
        input=draw(inputs()),
        cable=draw(cables()),
        length_m=draw(_maybe(st.one_of(st.just(0.0), _number(0.0, 2_000.0)))),
        weight_l=draw(_maybe(_number(0.01, 10_000.0))),
        max_flow_lpm=draw(_maybe(_number(1.0, 20_000.0))),
        q3_lpm=draw(_maybe(_number(1.0, 20_000.0))),
        leakage_ohm=draw(st.one_of(st.none(), _number(1e3, 1e7))),
        wiring=draw(st.sampled_from(["one_pair", "one_pair", "both_contacts"])),
        use_l_per_day=draw(_maybe(_number(0.0, 1e5))),
        resolution_l=draw(_maybe(_number(0.01, 1e4))),
        billing_l=draw(_maybe(_number(0.01, 1e4))),
        index_capacity_l=draw(_maybe(_number(1e3, 1e12))),
    )
