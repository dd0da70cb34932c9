"""Every figure on a small programme made by hand: states, second looks, rework, delays, silent ports, money."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from dialtrue.domain.errors import DialtrueError
from dialtrue.domain.progress.account import ProgrammeFigures, how_much
from dialtrue.domain.progress.rate import Rate
from dialtrue.services.programme_figures import programme_figures
from tests.support.programme_towns import DAY, NOW, Place, findings_file, town

SMALL = "[figures]\nenough = 20\n"


def look(folder: Path, places: list[Place], change=lambda _: {}, *, checks=None, settings=SMALL, **more):  # type: ignore[no-untyped-def]
    town(folder / "p", places, settings=settings, checks=checks)
    found = findings_file(folder / "f.csv", places, change)
    return programme_figures(folder / "p", at=NOW, findings=found, **more)


def doubtful(since_days: float, error_l: float | None) -> dict[str, object]:
    return {
        "fault": "weight_decade", "action": "visit", "since": NOW - since_days * DAY, "volume_error_l": error_l,
        "volume_error_low_l": error_l, "volume_error_high_l": error_l, "runner_up": "sound",
    }  # fmt: skip


def test_each_register_has_one_state_and_doubt_goes_before_all(tmp_path: Path) -> None:
    places = [Place(n, look=(30.0, 0) if n in (1, 2) else None) for n in range(6)]
    checks = [
        f"{places[2].meter},{(NOW - 5 * DAY).isoformat()},sound,,finding",
        f"{places[3].meter},{(NOW - 50 * DAY).isoformat()},dead_input,,finding",
        f"{places[4].meter},{(NOW - 50 * DAY).isoformat()},dead_input,false,finding",
        f"{places[5].meter},{(NOW - 9 * DAY).isoformat()},sound,,complaint",
    ]
    change = lambda p: doubtful(40, -5000.0) if p.number == 2 else {}  # noqa: E731
    figures = look(tmp_path, places, change, checks=checks)
    assert figures.states == {"proved": 2, "put_right": 1, "to_prove": 1, "doubtful": 2}
    assert figures.stakes.ports == 2
    assert (figures.stakes.over_l, figures.stakes.under_l, figures.stakes.unknown) == (0.0, 5000.0, 0)
    assert figures.indicators[-2].value == "2 of 3, too few"


@pytest.mark.parametrize(
    ("place", "state"),
    [
        (Place(1, look=(30.0, 0)), "agrees"),
        (Place(1, look=(30.0, 900)), "differs"),
        (Place(1, look=(60.0, 0)), "overdue"),
        (Place(1, fitted=30.0), "due"),
        (Place(1, fitted=10.0), "not_yet"),
        (Place(1, fitted=90.0, heard=75.0, look=(40.0, 0)), "no_index"),
    ],
)
def test_second_look(tmp_path: Path, place: Place, state: str) -> None:
    figures = look(tmp_path, [place, Place(2)])
    expected = dict.fromkeys(figures.pairs, 0)
    expected["overdue"] = 1
    expected[state] += 1  # type: ignore[index]
    assert figures.pairs == expected


def test_rework_counts_faults_put_right_within_the_days_and_first_time_right_those_old_enough(tmp_path: Path) -> None:
    places = [Place(n, fitted=90.0 if n < 3 else 20.0) for n in range(4)]
    checks = [
        f"{places[0].meter},{(NOW - 30.5 * DAY).isoformat()},dead_input,,finding",  # 59.5 days after its fitting
        f"{places[1].meter},{(NOW - 29.5 * DAY).isoformat()},dead_input,,finding",  # 60.5 days
        f"{places[2].meter},{(NOW - 80 * DAY).isoformat()},dead_input,false,finding",  # found, not put right
        f"{places[3].meter},{(NOW - 10 * DAY).isoformat()},vacant,,finding",  # the customer's matter
    ]
    figures = look(tmp_path, places, checks=checks)
    assert figures.rework == Rate(1, 4)
    assert figures.first_time_right == Rate(1, 3)


def test_without_checks_rework_is_not_nought_but_not_recorded(tmp_path: Path) -> None:
    figures = look(tmp_path, [Place(1)])
    assert figures.rework is None
    assert next(each for each in figures.indicators if each.name == "Rework").stands == "not recorded"
    assert any("no checks" in sentence for sentence in figures.said)


def test_days_from_fault_to_finding(tmp_path: Path) -> None:
    places = [Place(n) for n in range(4)]
    checks = [f"{places[0].meter},{(NOW - 10 * DAY).isoformat()},weight_decade,,finding"]
    changes = {0: doubtful(40, 1.0) | {"action": "none"}, 1: doubtful(8, 1.0), 2: doubtful(12, None)}
    figures = look(tmp_path, places, lambda p: changes.get(p.number, {}), checks=checks)
    assert (figures.confirmed_days.count, figures.confirmed_days.median) == (1, 30.0)
    assert (figures.waiting_days.count, figures.waiting_days.median) == (2, 10.0)
    assert (figures.all_days.median, figures.all_days.ninetieth) == (12.0, 30.0)
    assert figures.recent == 2
    assert "1 port the volume is not known yet" in how_much(figures)
    assert [(m.month.month, m.open, m.put_right) for m in figures.months] == [(4, 0, 1), (5, 2, 0), (6, 0, 0)]


def steps(figures: ProgrammeFigures) -> dict[str, str]:
    return {port.meter_serial: port.step for port in figures.silent}


def test_silent_ports_get_the_step_that_settles_most(tmp_path: Path) -> None:
    places = [
        Place(1, heard=None, area="a"),
        Place(2, heard=None, area="b", endpoint="DOUBLE"),
        Place(3, heard=None, area="c", endpoint="DOUBLE"),
        Place(4, heard=None, area="d", endpoint="ABCD1234"),
        Place(5, heard=30.0, area="e"),
        Place(6, heard=30.0, area="f"),
        *(Place(10 + n, heard=30.0, area="g") for n in range(4)),
        Place(20, heard=None, area="h", endpoint="TWO-PORTS", port=2),
        Place(21, area="h", endpoint="TWO-PORTS", port=1),
        Place(30, heard=None, fitted=3.0, area="i"),
    ]
    heard = Place(99, endpoint="ABCD1243", fitted=60.0)
    folder = town(tmp_path / "p", [*places, heard], settings=SMALL)
    rows = (folder / "fittings.csv").read_text().splitlines()
    (folder / "fittings.csv").write_text("\n".join(row for row in rows if "ABCD1243" not in row) + "\n")
    stamp = (NOW - 30 * DAY).isoformat()
    (folder / "alarms.csv").write_text(f"endpoint_serial,port,at,alarm\n{places[4].serial},1,{stamp},low_battery\n")
    figures = programme_figures(folder, at=NOW, findings=findings_file(tmp_path / "f.csv", places))
    assert steps(figures) == {
        "W00001": "activation", "W00002": "record", "W00003": "record", "W00004": "serial", "W00005": "cell",
        "W00006": "visit", **{f"W000{10 + n}": "reach" for n in range(4)}, "W00020": "other_port",
    }  # fmt: skip
    assert figures.too_new == 1
    assert figures.reading == Rate(1, 12)


def test_a_cluster_is_told_by_place_where_places_are_known(tmp_path: Path) -> None:
    near = [Place(n, heard=30.0, area=f"street {n}", at=(40.0 + n * 0.0005, 10.0)) for n in range(3)]
    far = [Place(10, heard=30.0, area="x", at=(40.2, 10.0))]
    figures = look(tmp_path, [*near, *far, Place(50, at=(40.3, 10.0))])
    assert steps(figures) == {**{p.meter: "reach" for p in near}, "W00010": "visit"}


def test_a_silent_side_of_a_street_is_a_cluster_in_a_dense_town_too(tmp_path: Path) -> None:
    def place(column: int, line: int, heard: float) -> Place:
        return Place(100 * line + column, heard=heard, at=(40.0 + line * 0.0006, 10.0 + column * 0.0002))

    places = [place(x, y, 30.0 if y == 3 and 5 <= x <= 10 else 0.5) for x in range(20) for y in range(7)]
    places += [Place(5000, heard=30.0, at=(40.0018, 10.003))]
    figures = look(tmp_path, places)
    assert [steps(figures)[f"W{300 + x:05}"] for x in range(5, 11)] == ["reach"] * 6
    assert steps(figures)["W05000"] == "visit"


def test_an_old_folder_is_counted_back_from_its_last_read_and_says_so(tmp_path: Path) -> None:
    folder = town(tmp_path / "p", [Place(1), Place(2, heard=20.0)], settings=SMALL)
    later = NOW + 100 * DAY
    found = findings_file(tmp_path / "f.csv", [Place(1), Place(2)])
    figures = programme_figures(folder, at=later, findings=found)
    assert figures.moment == NOW - 0.5 * DAY
    assert figures.reading == Rate(1, 2)
    assert any("100 days before this run" in sentence for sentence in figures.said)


HEAD = (
    "meter_serial,account,period_start,period_end,billed,corrected,difference,unit,method,low,high,rule,finding,basis,"
    "claimed,claimed_amount,currency\n"
)


def row(meter: str, unit: str, claimed: str, amount: str, currency: str = "crowns", basis: str = "confirmed") -> str:
    days = "2026-01-01,2026-02-01"
    return f"{meter},A1,{days},1,2,1,{unit},exact,2,2,r,weight_decade,{basis},{claimed},{amount},{currency}\n"


def test_recovered_is_what_is_claimed_exactly_and_refunds_stand_apart(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(
        HEAD + row("W1", "gal", "0.1", "0.10") + row("W1", "gal", "0.2", "0.20") + row("W2", "ft3", "-77", "-3.05")
        + row("W3", "gal", "", "") + row("W4", "gal", "5", "", basis="assumed"),
        encoding="utf-8",
    )  # fmt: skip
    recovered = look(tmp_path, [Place(1)], adjustments=path).recovered
    assert recovered.confirmed.claimed == Fraction(3, 10)
    assert recovered.confirmed.refunded == 576
    assert recovered.confirmed.money == {"crowns": (Decimal("0.30"), Decimal("3.05"))}
    assert (recovered.confirmed.meters, recovered.confirmed.without_money, recovered.undecided) == (2, 0, 1)
    assert (recovered.assumed.claimed, recovered.assumed.meters, recovered.assumed.without_money) == (5, 1, 1)


def test_without_a_rate_no_money_is_told(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(HEAD + row("W1", "gal", "12", "", ""), encoding="utf-8")
    figures = look(tmp_path, [Place(1)], adjustments=tmp_path / "a.csv")
    assert "no money is told" in how_much(figures)


def test_record_lag_is_told_from_the_column_of_records(tmp_path: Path) -> None:
    folder = town(tmp_path / "p", [Place(n) for n in range(20)], settings=SMALL)
    rows = (folder / "fittings.csv").read_text().splitlines()
    recorded = (NOW - 89 * DAY).isoformat()
    late = (NOW - 80 * DAY).isoformat()
    cells = ["recorded_at", *([recorded] * 18), late, "yesterday"]
    (folder / "fittings.csv").write_text("\n".join(f"{r},{c}" for r, c in zip(rows, cells, strict=True)) + "\n")
    found = findings_file(tmp_path / "f.csv", [Place(n) for n in range(20)])
    lag = next(i for i in programme_figures(folder, at=NOW, findings=found).indicators if i.name == "Record lag")
    assert (lag.value, lag.stands) == ("19 records, too few", "too few")


def test_turned_back_but_fitted_counts_as_fitted_and_a_stranger_is_outside(tmp_path: Path) -> None:
    places = [Place(1, status="Turned Back"), Place(2, fitted=None, status="handed_back"), Place(3, fitted=None)]
    folder = town(tmp_path / "p", places, settings=SMALL)
    with (folder / "fittings.csv").open("a") as file:
        file.write(f"S9,W99,E99,1,{(NOW - 60 * DAY).isoformat()},A,K1,0000000,0000000,7,gal,1,10,gal\n")
    figures = programme_figures(folder, at=NOW, findings=findings_file(tmp_path / "f.csv", places))
    told = (figures.planned, figures.fitted, figures.outside, figures.turned_back, figures.open)
    assert told == (3, 2, 1, 1, 1)
    assert any("marked as turned back are fitted" in sentence for sentence in figures.said)


def test_a_removed_endpoint_leaves_its_register_open(tmp_path: Path) -> None:
    folder = town(tmp_path / "p", [Place(1), Place(2)], settings=SMALL)
    rows = (folder / "fittings.csv").read_text().splitlines()
    gone = (NOW - 5 * DAY).isoformat()
    (folder / "fittings.csv").write_text(f"{rows[0]},removed_at\n{rows[1]},{gone}\n{rows[2]},\n")
    figures = programme_figures(folder, at=NOW, findings=findings_file(tmp_path / "f.csv", [Place(1), Place(2)]))
    assert (figures.fitted, figures.open) == (1, 1)
    assert any("taken off" in sentence for sentence in figures.said)


def test_a_fault_at_an_exchanged_endpoint_is_the_old_ones_and_the_register_is_put_right(tmp_path: Path) -> None:
    folder = town(tmp_path / "p", [Place(1, fitted=40.0, heard=31.0), Place(2)], settings=SMALL)
    rows = (folder / "fittings.csv").read_text().splitlines()
    swap = NOW - 30 * DAY
    new = rows[1].replace(Place(1).serial, "NEW").replace((NOW - 40 * DAY).isoformat(), swap.isoformat())
    (folder / "fittings.csv").write_text(f"{rows[0]},removed_at\n{rows[1]},{swap.isoformat()}\n{rows[2]},\n{new},\n")
    later = (swap + dt.timedelta(hours=1)).isoformat()
    (folder / "checks.csv").write_text(f"meter_serial,checked_at,found\nW00001,{later},dead_input\n")
    found = findings_file(tmp_path / "f.csv", [Place(1), Place(2), Place(1, endpoint="NEW")])
    figures = programme_figures(folder, at=NOW, findings=found)
    assert figures.states["put_right"] == 1
    assert figures.rework == Rate(1, 3)
    assert [(c.kind, c.put_right) for c in figures.causes if c.put_right] == [("wiring", 1)]


def test_judging_the_folder_gives_the_same_figures_as_its_findings(tmp_path: Path) -> None:
    from dialtrue.files.findings import write_findings
    from dialtrue.services.watch import watch_folder

    places = [Place(n, look=(30.0, 0)) for n in range(4)]
    folder = town(tmp_path / "p", places, settings=SMALL)
    write_findings(tmp_path / "f.csv", watch_folder(folder, at=NOW).findings)
    judged = programme_figures(folder, at=NOW)
    from_file = programme_figures(folder, at=NOW, findings=tmp_path / "f.csv")
    assert (judged.states, judged.pairs, judged.stakes, judged.reading) == (
        from_file.states, from_file.pairs, from_file.stakes, from_file.reading,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("settings", "told"),
    [
        ("[figures]\nfresh_day = 3\n", "figures.fresh_days"),
        ("[figures]\nfresh_days = 0\n", "from 1 to 90"),
        ("[figures]\nfresh_days = true\n", "from 1 to 90"),
        ("[figures]\npair_from_days = 50\n", "above pair_from_days"),
        ("[figures]\nturned_back = 'yes'\n", "a list of words"),
        ("[figures]\nstatus_column = 3\n", "the name of a column"),
        ("[figures]\nproof_width = 2.0\n", "from 0.005 to 0.3"),
        ("figures = 7\n", "as a table"),
    ],
)
def test_settings_that_mean_nothing_are_refused(tmp_path: Path, settings: str, told: str) -> None:
    with pytest.raises(DialtrueError, match=told):
        look(tmp_path, [Place(1)], settings=settings)


def test_as_of_uses_only_what_was_known_then(tmp_path: Path) -> None:
    places = [Place(1, look=(30.0, 0)), Place(2, fitted=20.0)]
    folder = town(tmp_path / "p", places, settings=SMALL)
    then = NOW - dt.timedelta(days=50)
    figures = programme_figures(folder, at=NOW, as_of=then, findings=findings_file(tmp_path / "f.csv", places))
    assert figures.fitted == 1
    assert figures.moment == then
