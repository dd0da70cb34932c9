"""A whole town: the same plan gives the same tables, and the labels say the truth about them."""

from __future__ import annotations

import datetime as dt
import itertools
from collections import Counter

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pytest

from dialtrue.domain.contracts import TABLE
from dialtrue.domain.errors import BadTownPlan
from dialtrue.domain.faults import FAULTS
from dialtrue.domain.quantity import LITRES_PER_UNIT, exact_decimal
from dialtrue.engine.simulation.town import Town, TownPlan, build_town

TABLES = ("sites", "fittings", "dial_reads", "reads", "alarms", "weather", "use_history", "labels", "crossings_truth")
SMALL = {"registers": 40, "days": 21, "fault_share": 0.3}


def test_the_same_plan_gives_the_same_bytes() -> None:
    one, two = (build_town(TownPlan(seed=5, **SMALL)) for _ in range(2))
    for name in TABLES:
        sinks = []
        for town in (one, two):
            sink = pa.BufferOutputStream()
            with pa.ipc.new_stream(sink, getattr(town, name).schema) as out:
                out.write_table(getattr(town, name))
            sinks.append(sink.getvalue().to_pybytes())
        assert sinks[0] == sinks[1], name


def test_another_seed_gives_another_town() -> None:
    assert not build_town(TownPlan(seed=5, **SMALL)).reads.equals(build_town(TownPlan(seed=6, **SMALL)).reads)


def test_a_ports_water_does_not_depend_on_its_neighbours_fate() -> None:
    sound = build_town(TownPlan(seed=5, **{**SMALL, "fault_share": 0.0}))
    faulty = build_town(TownPlan(seed=5, **SMALL))
    codes = dict(zip(_keys(faulty.labels), faulty.labels["fault"].to_pylist(), strict=True))
    truth = dict(zip(_keys(sound.labels), sound.labels["true_volume_l"].to_pylist(), strict=True))
    volume = dict(zip(_keys(faulty.labels), faulty.labels["true_volume_l"].to_pylist(), strict=True))
    still = [key for key, code in codes.items() if code == "sound"]
    assert len(still) > 15
    assert all(volume[key] == truth[key] for key in still)


def test_every_code_of_the_catalogue_but_the_open_one_occurs(mixed_town: Town) -> None:
    assert set(mixed_town.labels["fault"].to_pylist()) == set(FAULTS) - {"not_listed"}


@pytest.mark.parametrize("registers", [20, 60, 200])
def test_the_fault_share_is_kept_in_towns_of_any_size(registers: int) -> None:
    town = build_town(TownPlan(seed=2, registers=registers, days=21, fault_share=0.2))
    faulty = sum(code != "sound" for code in town.labels["fault"].to_pylist())
    assert 0 < faulty <= 0.2 * registers + 6


def test_a_chosen_mix_holds_nothing_else() -> None:
    town = build_town(TownPlan(seed=2, registers=60, days=21, fault_share=0.2, faults={"dead_input": 1}))
    assert Counter(town.labels["fault"].to_pylist())["dead_input"] == 12
    assert set(town.labels["fault"].to_pylist()) == {"sound", "dead_input"}


def _keys(table: pa.Table) -> list[tuple[str, str, int]]:
    return list(zip(*(table[name].to_pylist() for name in ("meter_serial", "endpoint_serial", "port")), strict=True))


def _own_reads(town: Town, endpoint: str, port: int) -> list[tuple[dt.datetime, int]]:
    """Return the endpoint's own words, in order of their stamps."""
    mask = pc.and_(
        pc.and_(pc.equal(town.reads["endpoint_serial"], endpoint), pc.equal(town.reads["port"], port)),
        pc.equal(town.reads["flag"], ""),
    )
    part = town.reads.filter(mask)
    rows = zip(part["at"].to_pylist(), part["index"].to_pylist(), strict=True)
    return sorted(rows, key=lambda row: row[0])


def _sites(town: Town) -> dict[tuple[str, str], dict]:
    return {(row["meter_serial"], row["register_role"]): row for row in town.sites.to_pylist()}


def _dial_l(site: dict, text: str) -> float:
    moving = text[: len(text) - site["fixed_zeros"]]
    return float(int(moving) * exact_decimal(site["dial_resolution"]) * LITRES_PER_UNIT[site["dial_unit"]])


def test_labels_agree_with_the_definition_recomputed_from_the_tables(mixed_town: Town) -> None:
    labels = dict(zip(_keys(mixed_town.labels), mixed_town.labels.to_pylist(), strict=True))
    sites, checked = _sites(mixed_town), Counter()
    for fitting in mixed_town.fittings.to_pylist():
        key = (fitting["meter_serial"], fitting["endpoint_serial"], fitting["port"])
        label = labels[key]
        until = fitting["removed_at"] or dt.datetime.max.replace(tzinfo=dt.UTC)
        earliest = fitting["fitted_at"] - dt.timedelta(hours=6)
        reads = [row for row in _own_reads(mixed_town, key[1], key[2]) if earliest <= row[0] < until]
        if not reads:
            assert label["fault"] == "port_unread"
            continue
        step_l = float(exact_decimal(fitting["index_resolution"]) * LITRES_PER_UNIT[fitting["index_unit"]])
        site = sites[(fitting["meter_serial"], fitting["register_role"])]
        counted = reads[-1][1] * step_l - _dial_l(site, label["dial_at_fit_true"])
        turns = (label["volume_error_l"] + label["true_volume_l"] - counted) / (step_l * 10 ** fitting["index_digits"])
        assert turns == pytest.approx(round(turns), abs=1e-6), label
        checked[label["fault"]] += 1
    assert len(checked) >= 25


def test_a_sound_port_stays_within_a_pulse_and_a_step_of_its_dial(mixed_town: Town) -> None:
    sites, fittings = _sites(mixed_town), {}
    for row in mixed_town.fittings.to_pylist():
        fittings[(row["meter_serial"], row["endpoint_serial"], row["port"])] = row
    sound = 0
    for key, label in zip(_keys(mixed_town.labels), mixed_town.labels.to_pylist(), strict=True):
        if label["fault"] not in ("sound", "vacant", "use_change", "customer_leak"):
            continue
        site = sites[(label["meter_serial"], label["register_role"])]
        fitting = fittings[key]
        weight = float(exact_decimal(site["pulse_weight"]) * LITRES_PER_UNIT[site["pulse_unit"]])
        step = float(exact_decimal(site["dial_resolution"]) * LITRES_PER_UNIT[site["dial_unit"]])
        index_step = float(exact_decimal(fitting["index_resolution"]) * LITRES_PER_UNIT[fitting["index_unit"]])
        assert abs(label["volume_error_l"]) <= weight + step + 2 * index_step + 0.01, label
        sound += 1
    assert sound > 100


def test_dial_reads_of_sound_ports_are_the_truth_but_for_said_misreads(mixed_town: Town) -> None:
    sites = _sites(mixed_town)
    labels = {}
    for label in mixed_town.labels.to_pylist():
        if label["fault"] == "sound" and label["variant"] is None:
            labels[(label["meter_serial"], label["register_role"])] = label
    later = 0
    for read in mixed_town.dial_reads.to_pylist():
        label = labels.get((read["meter_serial"], read["register_role"]))
        if (
            label is None
            or read["source"] == "fitter"
            or f"{read['at']:%Y-%m-%dT%H:%M:%SZ}" in (label["dial_misread"] or "")
        ):
            continue
        site = sites[(read["meter_serial"], read["register_role"])]
        step = float(exact_decimal(site["dial_resolution"]) * LITRES_PER_UNIT[site["dial_unit"]])
        capacity = step * 10 ** site["dial_digits"]
        moved = (_dial_l(site, read["dial"]) - _dial_l(site, label["dial_at_fit_true"])) % capacity
        assert moved <= label["true_volume_l"] + 2 * step
        later += 1
    assert later > 60


def test_reads_and_records_obey_the_contract(mixed_town: Town) -> None:
    for name in ("sites", "fittings", "dial_reads", "reads", "alarms", "weather", "use_history"):
        table = getattr(mixed_town, name)
        contract = TABLE[name]
        assert {column.name for column in contract.columns if column.required} <= set(table.column_names), name
        for column in contract.columns:
            if column.name not in table.column_names:
                continue
            values = [value for value in table[column.name].unique().to_pylist() if value not in (None, "")]
            if column.choices and column.form in ("choice", "unit"):
                assert set(values) <= set(column.choices), (name, column.name)
            if column.form == "digits":
                assert all(value.isdigit() for value in values)
            if column.minimum is not None and values:
                assert min(values) >= column.minimum
    widths = {
        (row["meter_serial"], row["register_role"]): row["dial_digits"] + row["fixed_zeros"]
        for row in mixed_town.sites.to_pylist()
    }
    for read in mixed_town.dial_reads.to_pylist():
        assert len(read["dial"]) == widths[(read["meter_serial"], read["register_role"])]
    for fitting in mixed_town.fittings.to_pylist():
        assert len(fitting["start_index"]) == fitting["index_digits"]


def test_crossed_rings_close(mixed_town: Town) -> None:
    rings: dict[int, list[dict]] = {}
    for row in mixed_town.crossings_truth.to_pylist():
        rings.setdefault(row["ring"], []).append(row)
    assert rings
    for ring in rings.values():
        assert {row["endpoint_serial"] for row in ring} == {row["true_endpoint_serial"] for row in ring}
        assert all(row["endpoint_serial"] != row["true_endpoint_serial"] for row in ring)


def test_story_7_swapped_ports_have_ratios_whose_product_is_one(mixed_town: Town) -> None:
    swapped = [row for row in mixed_town.labels.to_pylist() if row["fault"] == "ports_swapped"]
    assert len(swapped) >= 2
    product = swapped[0]["parameter"] * swapped[1]["parameter"]
    assert product == pytest.approx(1.0, abs=0.01)


def test_a_register_of_another_body_agrees_with_its_index_and_not_with_the_water(mixed_town: Town) -> None:
    rows = [row for row in mixed_town.labels.to_pylist() if row["fault"] == "register_mismatch"]
    assert rows
    for row in rows:
        assert row["volume_error_l"] == pytest.approx((row["parameter"] - 1) * row["true_volume_l"], abs=150)


def test_one_serial_for_two_meters_stands_in_the_record(mixed_town: Town) -> None:
    doubled = Counter(
        row["endpoint_serial"] for row in mixed_town.labels.to_pylist() if row["fault"] == "duplicate_serial"
    )
    assert doubled
    assert set(doubled.values()) == {2}


def test_a_port_that_nobody_uses_stands_still_after_the_last_move(mixed_town: Town) -> None:
    for label in mixed_town.labels.to_pylist():
        if label["fault"] == "vacant":
            after = label["since"] + dt.timedelta(days=1)
            reads = [
                index for at, index in _own_reads(mixed_town, label["endpoint_serial"], label["port"]) if at > after
            ]
            assert len(set(reads)) == 1


def test_use_before_the_fitting_is_near_use_after_it_for_sound_homes(mixed_town: Town) -> None:
    history: dict[str, list[float]] = {}
    for row in mixed_town.use_history.to_pylist():
        days = (row["end"] - row["start"]).days
        litres = float(exact_decimal(row["volume"]) * LITRES_PER_UNIT[row["unit"]]) / days
        history.setdefault(row["meter_serial"], []).append(litres)
    logs = []
    fitted = {row["meter_serial"]: row["fitted_at"] for row in mixed_town.fittings.to_pylist()}
    small = {row["meter_serial"] for row in mixed_town.sites.to_pylist() if row["meter_size"] in ("5/8in", "DN15")}
    end = mixed_town.plan.start + dt.timedelta(days=mixed_town.plan.days)
    for label in mixed_town.labels.to_pylist():
        serial = label["meter_serial"]
        if label["fault"] == "sound" and label["variant"] is None and serial in small and label["true_volume_l"] > 0:
            days = (end - fitted[serial]).total_seconds() / 86_400
            logs.append(np.log(label["true_volume_l"] / days) - np.log(np.mean(history[serial])))
    assert len(logs) > 40
    assert abs(np.median(logs)) < 0.15


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("registers", 9), ("days", 13), ("fault_share", 1.2), ("dial_read_share", -0.1), ("read_interval_s", 60),
        ("units", "imperial"), ("start", dt.datetime(2025, 5, 5)), ("faults", {"gremlins": 1}),  # noqa: DTZ001
        ("faults", {"dead_input": -1}), ("seed", -1),
    ],
)  # fmt: skip
def test_a_plan_that_cannot_be_built_says_which_value_and_what_form(name: str, value: object) -> None:
    with pytest.raises(BadTownPlan) as caught:
        TownPlan(**{"seed": 1, name: value})
    assert caught.value.facts["name"] == name


def test_monthly_reads_can_be_simulated_too() -> None:
    town = build_town(TownPlan(seed=1, registers=30, days=120, read_interval_s=2_592_000))
    assert 0 < town.reads.num_rows < 30 * 8


def test_progress_ends_at_the_number_of_registers() -> None:
    seen: list[tuple[int, int, str]] = []
    build_town(TownPlan(seed=1, registers=30, days=14), progress=lambda *step: seen.append(step))
    assert seen[-1] == (30, 30, "registers")
    assert [done for done, _, _ in seen] == sorted(done for done, _, _ in seen)


def test_a_leaking_home_counts_on_every_day_after_the_leak_began() -> None:
    town = build_town(TownPlan(seed=3, registers=60, days=40, fault_share=0.2, faults={"customer_leak": 1}))
    seen = 0
    for label in town.labels.to_pylist():
        if label["fault"] != "customer_leak":
            continue
        seen += 1
        if label["variant"] != "L_per_h":
            continue  # somebody mended it
        after = [
            index for at, index in _own_reads(town, label["endpoint_serial"], label["port"]) if at > label["since"]
        ]
        daily = after[::24]
        assert all(later != earlier for earlier, later in itertools.pairwise(daily))
        assert label["parameter"] >= 90 * 3.785411784 / 24 * 0.999
    assert seen == 12


def test_a_change_of_use_is_seen_in_the_rate_and_not_in_the_error() -> None:
    plan = TownPlan(seed=3, registers=60, days=90, fault_share=0.2, faults={"use_change": 1})
    changed, sound = build_town(plan), build_town(TownPlan(seed=3, registers=60, days=90, fault_share=0.0))
    truth = dict(zip(_keys(sound.labels), sound.labels["true_volume_l"].to_pylist(), strict=True))
    rows = [(key, row) for key, row in zip(_keys(changed.labels), changed.labels.to_pylist(), strict=True)]
    grew = [(key, row) for key, row in rows if row["fault"] == "use_change" and key in truth]
    assert len(grew) >= 10
    for key, row in grew:
        assert (row["true_volume_l"] > truth[key]) == (row["parameter"] > 1)


def test_tables_without_rows_keep_their_header() -> None:
    town = build_town(TownPlan(seed=1, registers=20, days=14, fault_share=0.0))
    assert town.crossings_truth.num_rows == 0
    for name, table in (("alarms", town.alarms), ("crossings", town.crossings_truth)):
        assert {column.name for column in TABLE[name].columns if column.required} <= set(table.column_names)
