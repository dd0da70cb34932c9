"""The school field and the wet splice, to the printed figures, in US and in metric units."""

from __future__ import annotations

import tomllib
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.corners import Spread
from dialtrue.domain.pulse_chain.counting import count_share
from dialtrue.domain.pulse_chain.figures import fit_figures
from dialtrue.domain.pulse_chain.measure import measure
from dialtrue.domain.pulse_chain.suggest import Choices, suggest
from dialtrue.domain.pulse_chain.verdict import judge
from dialtrue.domain.quantity import litres_per
from tests.support.chains import GAL_L, chain_of

CASES = Path(__file__).parent / "cases"
FIELD = tomllib.loads((CASES / "story-school-field.toml").read_text(encoding="utf-8"))
SPLICE = tomllib.loads((CASES / "story-wet-splice.toml").read_text(encoding="utf-8"))
SYSTEMS = ("us", "metric")


def volume(gallons: str, system: str) -> float:
    """A volume as the technician of each system writes it, read back in litres."""
    if system == "us":
        return float(measure(f"{gallons} gal", what="volume"))
    litres = Fraction(gallons) * litres_per("gal")
    return float(measure(f"{float(litres)!r} L", what="volume"))


def flow(gpm: str, system: str) -> float:
    if system == "us":
        return float(measure(f"{gpm} gal/min", what="flow"))
    cubic = float(Fraction(gpm) * litres_per("gal") * 60 / 1000)
    return float(measure(f"{cubic!r} m3/h", what="flow"))


def field(debounce_ms: float, system: str, *, weight_gal: str = FIELD["weight_gal"]) -> Chain:
    return chain_of(
        output={"closed_share": Spread.exactly(FIELD["closed_share"]), "bounce_ms": FIELD["bounce_ms"]},
        input={"debounce_ms": debounce_ms, "debounce_choices_ms": (25.0, 100.0)},
        weight_l=volume(weight_gal, system),
        max_flow_lpm=flow(FIELD["max_flow_gpm"], system),
    )


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("case", FIELD["filter"], ids=lambda case: f"{case['debounce_ms']} ms")
def test_school_field(case: dict[str, Any], system: str) -> None:
    chain = field(case["debounce_ms"], system)
    verdict, figures = judge(chain), fit_figures(chain)
    assert verdict.outcome == case["verdict"]
    assert figures.closed_ms == pytest.approx(case["closed_at_max_ms"], abs=1e-9)
    assert figures.cut_off_flow_lpm == pytest.approx(case["cut_off_gpm"] * GAL_L, rel=1e-5)
    assert verdict.high_flow_proof is case["high_flow_proof"]


@pytest.mark.parametrize("system", SYSTEMS)
def test_school_field_is_refused_for_its_closed_time(system: str) -> None:
    assert judge(field(100.0, system)).deciding.rule == "on-time"


@pytest.mark.parametrize("system", SYSTEMS)
def test_ten_gallon_output_mends_the_school_field(system: str) -> None:
    wider = FIELD["wider"]
    chain = field(wider["debounce_ms"], system, weight_gal=wider["weight_gal"])
    assert judge(chain).outcome == wider["verdict"]
    assert fit_figures(chain).closed_ms == pytest.approx(wider["closed_at_max_ms"], abs=1e-9)


@pytest.mark.parametrize("system", SYSTEMS)
def test_both_remedies_are_offered_setting_first(system: str) -> None:
    found = suggest(field(100.0, system), Choices())
    kinds = [[change.kind for change in suggestion.changes] for suggestion in found]
    assert kinds[:2] == [["debounce"], ["weight"]]
    assert found[0].changes[0].after == 25.0
    assert found[1].changes[0].after == pytest.approx(10 * GAL_L)


@pytest.mark.parametrize("system", SYSTEMS)
def test_a_month_on_the_school_field(system: str) -> None:
    month, chain = FIELD["month"], field(100.0, system)
    lost_share = 1.0 - count_share(chain, flow(str(month["field_gpm"]), system)).high
    indoor = count_share(chain, flow(str(month["indoor_gpm"]), system)).low
    watered = month["field_times"] * month["field_min"] * month["field_gpm"]
    assert lost_share * watered == month["lost_gal"]
    assert indoor == 1.0
    index, dial = indoor * month["indoor_gal"] + watered * (1.0 - lost_share), watered + month["indoor_gal"]
    assert dial == month["dial_gal"]
    assert index / dial == pytest.approx(month["ratio"], abs=0.0005)
    closed = FIELD["closed_share"] * 60_000 / month["field_gpm"]
    assert closed == pytest.approx(month["field_closed_ms"], abs=0.05)


def splice(ohm: float) -> Chain:
    return chain_of(
        output={"closed_share": Spread.exactly(SPLICE["closed_share"])},
        input={
            "supply_v": Spread.exactly(SPLICE["supply_v"]),
            "pull_up_ohm": Spread.exactly(ohm),
            "closed_below": SPLICE["closed_below"],
            "open_above": SPLICE["open_above"],
            "capacity_mah": SPLICE["capacity_mah"],
            "base_ua": SPLICE["base_ua"],
            "self_discharge_share": SPLICE["self_discharge_mah"] / SPLICE["capacity_mah"],
        },
        leakage_ohm=SPLICE["leakage_ohm"],
    )


@pytest.mark.parametrize("case", SPLICE["pull_up"], ids=lambda case: f"{case['ohm']:.0f} ohm")
def test_wet_splice_table_to_three_figures(case: dict[str, Any]) -> None:
    chain = splice(case["ohm"])
    figures = fit_figures(chain)
    three = 0.0006  # of the figure: the table prints three or four digits
    assert figures.site_open_v == pytest.approx(case["open_v"], rel=three)
    assert figures.site_reads == case["reads"]
    assert figures.damp_stood_nominal_ohm == pytest.approx(case["stands_ohm"], rel=three)
    assert figures.closed_current_ua == pytest.approx(case["closed_ua"], rel=0.001)
    assert figures.life_years == pytest.approx(case["usual_years"], abs=0.05)
    assert figures.life_parked_years == pytest.approx(case["parked_years"], abs=0.05)
    if "usual_mah" in case:
        assert figures.yearly_mah == pytest.approx(case["usual_mah"], abs=0.05)
        assert figures.yearly_parked_mah == pytest.approx(case["parked_mah"], abs=0.05)


@pytest.mark.parametrize("case", SPLICE["pull_up"], ids=lambda case: f"{case['ohm']:.0f} ohm")
def test_wet_splice_decides_the_verdict(case: dict[str, Any]) -> None:
    verdict = judge(splice(case["ohm"]))
    if case["reads"] == "open":
        assert verdict.result("open-level").status == "pass"
        assert verdict.outcome != "does_not_fit"
    else:
        assert (verdict.outcome, verdict.deciding.rule) == ("does_not_fit", "open-level")
        assert "damp" in verdict.deciding.corner
