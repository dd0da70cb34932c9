"""What holds of every plan: the index holds the dial, ports are unique, the verdict is the fit check's own."""

from __future__ import annotations

import dataclasses
from collections import Counter
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dialtrue.domain.dial import Dial
from dialtrue.domain.planning.index_choice import choose_index
from dialtrue.domain.planning.input_settings import input_settings
from dialtrue.domain.planning.start_rule import start_rule
from dialtrue.domain.pulse_chain.verdict import judge
from dialtrue.domain.quantity import UNITS, convert, exact_decimal, litres_per
from dialtrue.engine.port_groups import HIGH, LOW, SINGLE, port_groups
from dialtrue.files.sheets import shipped_catalogue
from dialtrue.services.fit import FitRequest, chain_of
from dialtrue.services.plan_check import check_ports
from tests.support.surveys import planned, register, rows_of

CATALOGUE = shipped_catalogue()
DIALS = st.builds(
    Dial,
    st.integers(3, 9),
    st.integers(0, 2),
    st.sampled_from(UNITS),
    st.sampled_from([Fraction(1, 1000), Fraction(1, 10), Fraction(1), Fraction(10), Fraction(100)]),
)
STEPS = [Fraction(1, 1000), Fraction(1, 100), Fraction(1, 10), Fraction(1), Fraction(10), Fraction(100)]


@given(
    dial=DIALS,
    weight=st.sampled_from(["0.25", "1", "2.5", "10", "100"]),
    digits=st.lists(st.integers(4, 9), min_size=1, max_size=4, unique=True),
    steps=st.lists(st.sampled_from(STEPS), min_size=1, max_size=6, unique=True),
    billing=st.sampled_from([None, "1", "1000", "0.3"]),
)
def test_an_index_holds_the_dial_wherever_one_on_offer_does(
    dial: Dial, weight: str, digits: list[int], steps: list[Fraction], billing: str | None
) -> None:
    unit_l = litres_per(dial.unit)
    choice = choose_index(
        dial,
        exact_decimal(weight) * unit_l,
        digits=digits,
        units=UNITS,
        resolutions=steps,
        billing_l=None if billing is None else exact_decimal(billing) * unit_l,
    )
    assert choice is not None
    assert choice.index.digits in digits
    assert choice.index.resolution in steps
    assert choice.index.unit == dial.unit
    most = max(steps) * 10 ** max(digits)
    assert choice.holds_dial == (most >= dial.capacity)
    assert choice.holds_dial == (choice.index.capacity >= dial.capacity)


@given(dial=DIALS, step=st.sampled_from(STEPS), digits=st.integers(4, 12))
def test_the_worked_example_gives_back_the_reading(dial: Dial, step: Fraction, digits: int) -> None:
    choice = choose_index(dial, litres_per(dial.unit), digits=(digits,), units=UNITS, resolutions=(step,))
    assert choice is not None
    index = choice.index
    rule = start_rule(dial, index)
    keyed = index.volume(index.keyed(rule.example.digits))
    reading = convert(dial.read(rule.example_dial), dial.unit, index.unit)
    assert keyed + rule.example.left_over + rule.example.dropped_top == reading
    assert len(rule.example.digits) == index.digits
    assert rule.example.digits not in rule.words


@st.composite
def surveys(draw: st.DrawFn) -> dict[str, np.ndarray]:
    """A survey as codes: meters in some order, some compound, some with rows missing or doubled."""
    rows = []
    for serial in range(draw(st.integers(1, 14))):
        site, mount, endpoint = draw(st.integers(0, 4)), draw(st.integers(-1, 1)), draw(st.integers(-1, 0))
        kind = draw(st.sampled_from(["single", "single", "pair", "lone"]))
        roles = {"single": [SINGLE], "pair": [HIGH, LOW], "lone": [draw(st.sampled_from([HIGH, LOW]))]}[kind]
        rows += [(site, serial, role, mount, endpoint) for role in roles]
    rows = draw(st.permutations(rows))
    columns = np.array(rows, dtype=np.int64).T
    return dict(zip(("site", "serial", "role", "mount", "endpoint"), columns, strict=True))


@given(survey=surveys(), most=st.integers(1, 4))
def test_every_register_has_a_port_of_its_own(survey: dict[str, np.ndarray], most: int) -> None:
    rows = len(survey["site"])
    groups = port_groups(**survey, compound=np.zeros(rows, np.bool_), most_ports=np.full(rows, most, dtype=np.int64))
    places = Counter(zip(survey["site"].tolist(), groups.number.tolist(), groups.port.tolist(), strict=True))
    assert max(places.values()) == 1
    assert groups.port.min() >= 1
    for group in range(len(groups.size)):
        held = groups.group == group
        assert {len(set(survey[name][held].tolist())) for name in ("site", "mount", "endpoint")} == {1}
        assert groups.port[held].max() <= groups.size[group] <= max(most, 2)
    for serial in set(survey["serial"].tolist()):
        own = survey["serial"] == serial
        pairs = {(int(r), int(p)) for r, p in zip(survey["role"][own], groups.port[own], strict=True) if r != SINGLE}
        assert pairs <= {(HIGH, 1), (LOW, 2)}
        assert len(set(groups.group[own].tolist())) == 1


REGISTERS = st.fixed_dictionaries(
    {
        "output": st.sampled_from(["", *CATALOGUE.outputs]),
        "cable": st.sampled_from(["", *CATALOGUE.cables]),
        "cable_length_m": st.sampled_from(["", "0.7", "3", "41.3", "180"]),
        "meter_size": st.sampled_from(["", "5/8in", "2in", "4in", "DN20", "9in"]),
        "mount": st.sampled_from(["", "pit", "wall", "pole", "indoor"]),
        "pulse_weight": st.sampled_from(["0.1", "1", "10", "100", "7"]),
        "use_l_per_day": st.sampled_from(["", "0", "500", "90000"]),
    }
)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(rows=st.lists(REGISTERS, min_size=1, max_size=8), shared=st.booleans())
def test_the_planned_verdict_is_that_of_the_fit_check(rows: list[dict[str, str]], shared: bool) -> None:
    survey = [register("S1" if shared else f"S{place}", f"{place:08}", **cells) for place, cells in enumerate(rows)]
    with TemporaryDirectory() as folder:
        answer = planned(Path(folder), *survey)
    if all(row["port"] is not None for row in rows_of(answer)):
        check_ports(answer.sites, answer.plan)
    for cells, row in zip(survey, rows_of(answer), strict=True):
        chain = chain_of(_request(cells, row), CATALOGUE)
        if row["endpoint"] is not None:
            setting = next(
                held
                for held in input_settings(chain.input)
                if (held.pull_up_ohm, held.debounce_ms) == (row["pull_up_ohm"], row["debounce_ms"])
            )
            chain = dataclasses.replace(chain, input=setting.entry)
        verdict = judge(chain)
        assert (row["verdict"], row["deciding_rule"]) == (verdict.outcome, verdict.deciding.rule)
        assert row["worst_margin"] == verdict.deciding.margin or verdict.deciding.margin in (None, float("inf"))


def _request(cells: dict[str, str], row: dict[str, object]) -> FitRequest:
    """The same chain as one asks for it by hand, with the index and the billing unit of the plan."""
    gallon = litres_per("gal")
    index = {} if row["index_digits"] is None else {
        "resolution_l": exact_decimal(str(row["index_resolution"])) * gallon, "index_digits": row["index_digits"],
    }  # fmt: skip
    known = cells["meter_size"] not in ("", "9in")
    return FitRequest(
        output=cells["output"],
        input=str(row["input"] or ""),
        cable=str(row["cable"] or ""),
        length_m=exact_decimal(cells["cable_length_m"]) if cells["cable_length_m"] else None,
        weight_l=exact_decimal(cells["pulse_weight"]) * gallon,
        size=cells["meter_size"] if known else "",
        use_l_per_day=exact_decimal(cells["use_l_per_day"]) if cells["use_l_per_day"] else None,
        billing_l=1000 * gallon,
        **index,  # type: ignore[arg-type]
    )
