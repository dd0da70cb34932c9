"""Which rule decides, and that silence is no pass."""

from __future__ import annotations

import dataclasses

import pytest

from dialtrue.domain.errors import FigureRange, LengthRange, UnknownFitRule, UnknownMeterSize
from dialtrue.domain.pulse_chain.cable import Cable, gauge_ohm_per_km
from dialtrue.domain.pulse_chain.chain import Chain, FitSettings
from dialtrue.domain.pulse_chain.corners import Spread
from dialtrue.domain.pulse_chain.counting import count_curve, count_share, cut_off_flow_lpm, first_loss_flow_lpm
from dialtrue.domain.pulse_chain.figures import fit_figures
from dialtrue.domain.pulse_chain.missing import missing_figures
from dialtrue.domain.pulse_chain.output import Output
from dialtrue.domain.pulse_chain.reach import longest_cable_m
from dialtrue.domain.pulse_chain.rules import RULES, fit_rule
from dialtrue.domain.pulse_chain.suggest import Choices, suggest
from dialtrue.domain.pulse_chain.timing import flow_limits
from dialtrue.domain.pulse_chain.verdict import judge
from dialtrue.domain.pulse_chain.words import reminders, verdict_sentence
from tests.support.chains import CONTACT_INPUT, GAL_L, chain_of


def said(chain: Chain, system: str = "us") -> str:
    return verdict_sentence(chain, judge(chain), fit_figures(chain), system=system)


def test_whole_chain_fits() -> None:
    verdict = judge(chain_of())
    assert verdict.outcome == "fits"
    assert {result.rule for result in verdict.results} == {rule.id for rule in RULES}


@pytest.mark.parametrize(
    ("rule", "changes"),
    [
        ("closed-level", {"output": {"closed_ohm": Spread.exactly(60_000.0)}}),
        ("open-level", {"output": {"off_leak_ua": 40.0}}),
        ("line-resistance", {"output": {"max_line_ohm": 0.5}}),
        ("insulation", {"output": {"min_insulation_ohm": 1e6}, "leakage_ohm": 500_000.0}),
        ("on-time", {"input": {"debounce_ms": 80.0}}),
        ("off-time", {"input": {"open_debounce_ms": 400.0}}),
        ("bounce", {"output": {"bounce_ms": 26.0}}),
        ("slow-edge", {"input": {"hysteresis_v": 0.0, "pull_up_ohm": Spread.exactly(3e6), "capacitance_pf": 2e4}}),
        ("max-rate", {"input": {"max_rate_hz": 1.0}}),
        ("edges", {"input": {"edges": "both"}}),
        ("edges", {"wiring": "both_contacts", "output": {"kind": "changeover"}}),
        ("wetting", {"output": {"min_ma": 2.0}}),
        ("rating", {"output": {"max_v": 2.0}}),
        ("strobe", {"input": {"scheme": "sampled", "sample_period_ms": 5.0, "pull_up_on_ms": 0.02}}),
    ],
)  # fmt: skip
def test_each_refusing_rule_can_refuse(rule: str, changes: dict[str, object]) -> None:
    verdict = judge(chain_of(**changes))
    assert verdict.outcome == "does_not_fit"
    assert verdict.result(rule).status == "fail"
    assert verdict.result(rule).margin < 0


@pytest.mark.parametrize(
    ("rule", "changes"),
    [
        ("damp", {"input": {"pull_up_ohm": Spread.exactly(1e6)}}),
        ("life", {"input": {"capacity_mah": 1000.0, "base_ua": 15.0, "self_discharge_share": 0.01}}),
        ("resolution", {"billing_l": 1.0}),
        ("rollover", {"index_capacity_l": 1e5, "q3_lpm": 100.0}),
        ("conductors", {"input": {"tamper_loop": "two_wire"}}),
        ("on-time", {"input": {"debounce_ms": 65.0}}),
    ],
)
def test_wishes_and_thin_margins_ask_for_care(rule: str, changes: dict[str, object]) -> None:
    verdict = judge(chain_of(**changes))
    assert verdict.outcome == "fits_with_care"
    assert verdict.result(rule).status == "care"


@pytest.mark.parametrize(("output", "entry"), [("dry_contact", "voltage"), ("dry_contact", "current"),
                                               ("push_pull", "current"), ("current_sensor", "pull_up")])  # fmt: skip
def test_output_that_cannot_drive_the_input_gets_no_number(output: str, entry: str) -> None:
    chain = chain_of(output={"kind": output}, input={"kind": entry})
    verdict = judge(chain)
    assert (verdict.outcome, verdict.deciding.rule) == ("does_not_fit", "kinds")
    assert verdict.result("closed-level").value is None
    assert fit_figures(chain).closed_level_v is None
    assert "cannot drive" in said(chain)


def test_missing_figure_is_not_known_and_the_others_are_decided() -> None:
    chain = chain_of(output={"bounce_ms": None})
    verdict = judge(chain)
    assert verdict.outcome == "unknown"
    assert verdict.result("bounce").status == "not_known"
    assert verdict.result("off-time").status == "pass"
    assert missing_figures(chain, "bounce") == ["output.bounce_ms"]
    assert "output.bounce_ms" in said(chain)


def test_known_failure_decides_whatever_is_missing() -> None:
    verdict = judge(chain_of(output={"bounce_ms": None, "off_leak_ua": 40.0}))
    assert (verdict.outcome, verdict.deciding.rule) == ("does_not_fit", "open-level")


def test_empty_chain_is_not_known() -> None:
    assert judge(Chain()).outcome == "unknown"
    assert missing_figures(Chain(), "kinds") == ["the output sheet", "the input sheet"]


def test_figure_from_memory_never_refuses_alone() -> None:
    doubted = chain_of(output={"min_ma": 2.0, "doubtful": frozenset({"min_ma"})})
    assert judge(doubted).outcome == "fits_with_care"
    assert judge(doubted).result("wetting").doubtful == ("output.min_ma",)
    assert "memory" in said(doubted)
    level = chain_of(output={"off_leak_ua": 2000.0, "doubtful": frozenset({"off_leak_ua"})})
    assert (judge(level).outcome, judge(level).deciding.rule) == ("unknown", "open-level")


def test_doubt_about_microseconds_is_no_doubt_about_the_closed_time() -> None:
    chain = chain_of(input={"debounce_ms": 100.0}, output={"doubtful": frozenset({"closed_ohm"})})
    assert judge(chain).outcome == "does_not_fit"


def test_rounding_does_not_refuse_what_just_fits() -> None:
    just = chain_of(input={"debounce_ms": 70.0}, length_m=0.0, output={"closed_ohm": Spread.exactly(1e-6)})
    assert judge(just).result("on-time").status in ("pass", "care")
    over = chain_of(input={"debounce_ms": 70.001}, length_m=0.0, output={"closed_ohm": Spread.exactly(1e-6)})
    assert judge(over).result("on-time").status == "fail"


def test_sampled_input_needs_a_look_and_its_jitter() -> None:
    sampled = {"scheme": "sampled", "debounce_ms": None, "sample_jitter_ms": 1.0, "samples_to_confirm": 2}
    fits = chain_of(input=sampled | {"sample_period_ms": 30.0})
    assert judge(fits).result("on-time").limit == pytest.approx(5.0 + 2 * 31.0, abs=0.01)
    assert judge(chain_of(input=sampled | {"sample_period_ms": 40.0})).result("on-time").status == "fail"


def test_fixed_pulse_needs_its_pause_at_the_greatest_flow() -> None:
    fixed = {"closed_share": None, "closed_ms": Spread.exactly(50.0)}
    assert judge(chain_of(output=fixed)).outcome == "fits"
    verdict = judge(chain_of(output=fixed, weight_l=0.1 * GAL_L, input={"max_rate_hz": 100.0}))
    assert verdict.result("off-time").value == pytest.approx(37.5 - 50.0)
    assert verdict.outcome == "does_not_fit"


def test_losses_begin_before_the_cut_off_and_are_chance_between() -> None:
    chain = chain_of(input={"debounce_ms": 100.0})
    first, last = first_loss_flow_lpm(chain), cut_off_flow_lpm(chain)
    assert first / GAL_L == pytest.approx(114.286, abs=0.01)
    assert last / GAL_L == pytest.approx(120.0, abs=0.01)
    assert count_share(chain, first).low == 1.0
    between = count_share(chain, (first + last) / 2)
    assert (between.low, between.high) == (0.0, 1.0)
    assert count_share(chain, last * 1.01).high == 0.0


def test_sampled_input_loses_a_share_in_proportion() -> None:
    chain = chain_of(
        input={"scheme": "sampled", "debounce_ms": None, "sample_period_ms": 100.0, "max_rate_hz": 1e6},
        output={"bounce_ms": 0.0},
    )
    assert count_share(chain, 160 * GAL_L).expected == pytest.approx(0.75)


def test_both_edges_count_twice_on_the_curve() -> None:
    curve = count_curve(chain_of(input={"edges": "both"}))
    assert {point.expected for point in curve} == {2.0}


def test_longest_cable_is_the_longest() -> None:
    chain = chain_of(input={"pull_up_ohm": Spread.exactly(1e6), "debounce_ms": 25.0}, weight_l=0.5 * GAL_L)
    longest = longest_cable_m(chain)
    assert longest is not None
    assert 0.0 < longest < 10_000.0
    assert judge(dataclasses.replace(chain, length_m=longest)).outcome != "does_not_fit"
    assert judge(dataclasses.replace(chain, length_m=longest + 0.1)).outcome == "does_not_fit"
    assert longest_cable_m(chain_of(input={"edges": "both"})) == 0.0
    assert longest_cable_m(chain_of(output={"bounce_ms": None})) is None


def test_leak_and_rollover_figures() -> None:
    figures = fit_figures(chain_of(resolution_l=10.0, index_capacity_l=96_000.0, q3_lpm=1.0, use_l_per_day=100.0))
    assert figures.leak_every_hour_lph == 10.0
    assert figures.leak_in_a_day_lph == pytest.approx(10.0 / 24)
    assert figures.rollover_q3_h == 1600.0
    assert figures.rollover_use_years == pytest.approx(960 / 365.25)
    assert figures.pulses_per_day == pytest.approx(100 / GAL_L)


def test_high_flow_proof_is_asked_under_three_filters() -> None:
    assert judge(chain_of(input={"debounce_ms": 23.0})).high_flow_proof is False
    assert judge(chain_of(input={"debounce_ms": 24.0})).high_flow_proof is True
    assert judge(chain_of(max_flow_lpm=None)).high_flow_proof is None


def test_swapped_wires_are_said_for_transistors_only() -> None:
    chain = chain_of(output={"kind": "open_drain"})
    assert fit_figures(chain).reversed_reads == "closed"
    assert any("swapped" in line for line in reminders(chain, judge(chain), fit_figures(chain)))
    assert fit_figures(chain_of()).reversed_reads is None


def test_one_change_before_two_and_none_where_it_fits() -> None:
    assert suggest(chain_of(), Choices()) == []
    edged = chain_of(input={"edges": "both", "debounce_ms": 100.0, "debounce_choices_ms": (25.0,)})
    found = suggest(edged, Choices())
    assert [change.kind for change in found[0].changes] == ["edges", "debounce"]
    assert found[0].cost == 2.0


def test_settings_suggested_with_another_input_are_its_own() -> None:
    other = dataclasses.replace(CONTACT_INPUT, key="other", debounce_ms=100.0, debounce_choices_ms=(25.0,))
    stuck = chain_of(input={"debounce_ms": 100.0, "debounce_choices_ms": (50.0, 60.0), "edges": "both"})
    found = suggest(stuck, Choices(inputs=(other,), weights_l=(GAL_L,)))
    with_other = [item for item in found if item.changes[0].kind == "input"]
    assert all(change.after == 25.0 for item in with_other for change in item.changes[1:])


def test_costs_can_be_overridden() -> None:
    chain = chain_of(input={"debounce_ms": 100.0, "debounce_choices_ms": (25.0,)})
    assert suggest(chain, Choices())[0].changes[0].kind == "debounce"
    dear = Choices(costs={"debounce": 50.0})
    assert suggest(chain, dear)[0].changes[0].kind == "weight"


@pytest.mark.parametrize("length", [-0.1, float("nan"), float("inf"), 10_001.0])
def test_length_that_no_cable_has_is_refused(length: float) -> None:
    with pytest.raises(LengthRange):
        chain_of(length_m=length)


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), 0.0, -1.0, 1e300])
def test_weight_from_nonsense_is_refused(bad: float) -> None:
    with pytest.raises(FigureRange):
        chain_of(weight_l=bad)


def test_sheet_figures_from_nonsense_are_refused() -> None:
    for bad in (Spread(3.0, 2.0, 1.0), Spread.exactly(float("nan")), Spread.exactly(-1.0)):
        with pytest.raises(FigureRange):
            chain_of(input={"pull_up_ohm": bad})
    with pytest.raises(FigureRange):
        Output(key="o", kind="dry_contact", closed_share=Spread.exactly(0.2), closed_ms=Spread.exactly(5.0))
    with pytest.raises(FigureRange):
        Cable(key="c", conductors=1)
    with pytest.raises(FigureRange):
        FitSettings(cold_c=70.0)


def test_wrong_names_get_the_nearest() -> None:
    with pytest.raises(UnknownFitRule, match="on-time"):
        fit_rule("on-tme")
    with pytest.raises(UnknownMeterSize, match="5/8in"):
        flow_limits("7in")
    assert gauge_ohm_per_km("awg22") == gauge_ohm_per_km("AWG 22")


@pytest.mark.parametrize("system", ["us", "metric"])
def test_sentence_names_flow_in_the_readers_unit(system: str) -> None:
    sentence = said(chain_of(input={"debounce_ms": 100.0}), system)
    assert sentence.startswith("Does not fit: ")
    assert ("160 gal/min" in sentence) is (system == "us")
    assert ("36.3 m3/h" in sentence) is (system == "metric")


def test_high_flow_proof_of_pulses_of_fixed_width_asks_for_the_pause() -> None:
    fixed = {"closed_share": None, "closed_ms": Spread.exactly(50.0)}
    assert judge(chain_of(output=fixed)).high_flow_proof is False
    assert judge(chain_of(output=fixed, max_flow_lpm=160 * GAL_L * 3.1)).high_flow_proof is True


def test_life_of_pulses_of_fixed_width_asks_for_the_expected_use() -> None:
    chain = chain_of(
        output={"closed_share": None, "closed_ms": Spread.exactly(50.0)},
        input={"capacity_mah": 6800.0, "base_ua": 15.0, "self_discharge_share": 0.0125},
    )
    assert judge(chain).result("life").status == "not_known"
    assert missing_figures(chain, "life") == ["expected use"]
