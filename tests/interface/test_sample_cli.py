"""``dialtrue sample`` as an inspector meets it: words, files, pages, exit codes."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest

from dialtrue.domain.acceptance.plan import GradePlan, demand_named
from dialtrue.files.sample_charts import Group, characteristic_picture, funnel_picture, lots_picture
from dialtrue.files.sample_report import sample_page
from dialtrue.interfaces.cli import run
from dialtrue.services.sample import sample_account
from tests.support.html_pages import Page
from tests.support.lots import JUDGED_AT, drawn, inspect, inspected, lot_folder, sample_of


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return lot_folder(tmp_path / "p", {"L1": ("A", 100), "L2": ("B", 60), "L3": ("C", 9)})


def sample(folder: Path, *words: str) -> int:
    return run(["sample", str(folder), *words])


def test_a_plan_says_how_many_and_what_would_pass(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert sample(folder, "plan") == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "3 lots, 169 sites: 3 to draw."
    assert max(map(len, lines)) <= 100
    assert any(line.split()[:5] == ["L1", "100", "0", "20", "normal"] for line in lines)
    assert any(line.split()[:4] == ["L3", "9", "0", "all"] for line in lines)
    assert any(line.strip().startswith("critical  0 in 20") for line in lines)


def test_demands_may_be_tried_on_the_command_line(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["--critical", "zero 5", "--major", "none", "--minor", "none", "--severity", "tightened", "--level", "I"]
    assert sample(folder, "plan", "--lot", "L1", *asked) == 0
    said = capsys.readouterr().out
    assert "0 in 45" in said
    assert "tightened" in said
    assert sample(folder, "plan", "--critical", "five") == 2
    assert sample(folder, "plan", "--critical", "aql 3") == 2
    assert sample(folder, "plan", "--level", "IV") == 2
    assert "UNKNOWN-LEVEL" in capsys.readouterr().err


def test_a_draw_is_kept_and_a_dry_run_keeps_nothing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["draw", "--lot", "L1", "--seed", "heron 7"]
    assert sample(folder, *asked, "--dry-run") == 0
    assert "Would write" in capsys.readouterr().err
    assert not (folder / "draw.csv").exists()
    assert sample(folder, *asked) == 0
    said = capsys.readouterr().out
    assert "seed 'heron 7'" in said
    assert "sha256sum" in said
    assert max(map(len, said.splitlines())) <= 100
    assert (folder / "draw.csv").read_text(encoding="utf-8").count("\n") == 101
    assert sample(folder, *asked) == 2
    assert "LOT-DRAWN" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (["draw"], "--lot"),
        (["plan", "--seed", "x"], "it goes with draw"),
        (["judge", "--again"], "it goes with draw"),
        (["draw", "--lot", "L1", "--replace", "S1"], "--reason"),
        (["draw", "--lot", "L1", "--reason", "dog"], "--replace"),
        (["judge", "--compare", "A"], "A,B"),
        (["juge"], "judge"),
        (["judge", "--report", "x.pdf"], ".html"),
    ],
)
def test_options_that_do_not_fit_are_told(
    folder: Path, words: list[str], part: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert sample(folder, *words) == 2
    assert part in capsys.readouterr().err


def test_judging_leads_with_what_is_rejected(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    account = drawn(folder, "L1", "L2")
    inspected(folder, account, "L1", bad=0)
    inspected(folder, account, "L2", bad=2)
    inspect(folder, [{"lot": "L9", "site": "S0001"}])
    assert sample(folder, "judge") == 3
    said = capsys.readouterr().out
    lines = said.splitlines()
    assert lines[0] == "3 lots, 169 sites: 1 rejected, 1 accepted, 1 to draw."
    assert said.index("Rejected") < said.index("Accepted")
    assert "expect 4 more critical, 0 to 13" in said
    assert "row 42, lot L9, site S0001: there is no such lot." in said
    assert "too few" in said
    assert max(map(len, lines)) <= 100


def test_judging_ends_with_nought_while_nothing_is_rejected(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    inspected(folder, drawn(folder, "L1"), "L1", bad=0, of=5)
    assert sample(folder, "judge", "--lot", "L1") == 0
    assert "Not yet: 15 more must be seen." in capsys.readouterr().out


def test_a_crew_that_is_not_there_is_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    inspected(folder, drawn(folder, "L1"), "L1", bad=0)
    assert sample(folder, "judge", "--compare", "A,Z") == 2
    assert "'Z' of that crew" in capsys.readouterr().err


def test_a_replacement_goes_through_the_command(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    site = sample_of(drawn(folder, "L1"), "L1")[0]
    asked = ["draw", "--lot", "L1", "--replace", site, "--reason", "dog, three visits", "--by", "J"]
    assert sample(folder, *asked) == 2
    inspect(folder, [{"lot": "L1", "site": site, "grade": "no_access"}])
    assert sample(folder, *asked) == 0
    assert f"stands in for {site}." in capsys.readouterr().out
    assert "dog, three visits" in (folder / "draw.csv").read_text(encoding="utf-8")


def test_a_draw_kept_as_parquet_stays_parquet(folder: Path) -> None:
    import pyarrow.csv
    import pyarrow.parquet

    drawn(folder, "L1")
    table = pyarrow.csv.read_csv(folder / "draw.csv")
    pyarrow.parquet.write_table(table, folder / "draw.parquet")
    (folder / "draw.csv").unlink()
    assert sample(folder, "draw", "--lot", "L2", "--seed", "egret") == 0
    assert not (folder / "draw.csv").exists()
    assert pyarrow.parquet.read_table(folder / "draw.parquet").num_rows == 160


def test_the_document_is_stable(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    inspected(folder, drawn(folder, "L1"), "L1", bad=1)
    assert sample(folder, "judge", "--json") == 3
    document = json.loads(capsys.readouterr().out)
    assert list(document) == [
        "form", "step", "summary", "says", "lots", "crews", "pairs", "series", "not_counted", "said",
    ]  # fmt: skip
    first = document["lots"][0]
    assert first["decision"] == "Reject"
    assert first["grades"][0]["exact_95"] == pytest.approx([0.00127, 0.2487], abs=1e-4)
    assert first["draw"]["seed"] == "heron 7"
    assert first["plans"][0]["characteristic"][0] == [0.0, 1.0]


def test_the_pages_hold_together_and_escape_what_files_say(folder: Path, tmp_path: Path) -> None:
    account = drawn(folder, "L1", "L2", seed="<b>&heron")
    inspected(folder, account, "L1", bad=0)
    inspect(folder, [{"lot": "L2", "site": sample_of(account, "L2")[0], "grade": "critical", "defect": "<script>"}])
    assert sample(folder, "judge", "--report", str(tmp_path / "sample.html")) == 3
    page = Page((tmp_path / "sample.html").read_text(encoding="utf-8"))
    assert page.problems == []
    assert set(page.references) <= set(page.identities)
    assert len(set(page.identities)) == len(page.identities)
    assert "script" not in page.tags
    assert "critical: <script>" in page.words
    assert page.tags.count("ol") == 2
    assert not any(name in ("src", "onclick") for _, name, _ in page.attributes)


def test_each_lot_prints_on_pages_of_its_own(folder: Path) -> None:
    drawn(folder, "L1", "L2")
    text = sample_page(sample_account(folder, at=JUDGED_AT), title="p", at=JUDGED_AT)
    assert text.count('class="lot"') == text.count('class="list"') == 2
    assert ".lot{break-before:page" in text
    assert ".lot .list{break-before:page}" in text


def test_charts_are_well_formed_whatever_they_hold() -> None:
    plan = GradePlan("critical", demand_named("aql 1.0"), 50, 1)
    none, all_bad = [Group("A & co", 60, 0)], [Group("<A>", 1, 1), Group("B", 9, 9, few=True)]
    many = [Group(f"crew {number}", 50 + number, number % 4) for number in range(40)]
    drawings = [characteristic_picture(plan, size) for size in (51, 500, 100_000)]
    for groups in (none, all_bad, many):
        for draw in (funnel_picture, lots_picture):
            drawings += [draw(groups, what="critical", width=width) for width in (300, 620)]
    for drawing in drawings:
        root = ElementTree.fromstring(drawing)
        width = float(root.attrib["width"])
        assert root.find("title") is not None
        for text in root.iter("text"):
            assert -1 <= float(text.attrib["x"]) <= width + 1
        assert "nan" not in drawing


def test_a_crew_beyond_the_outer_limit_has_another_shape() -> None:
    crews = [Group("A", 60, 3), Group("B", 60, 0), Group("C", 60, 14), Group("D", 60, 0)]
    drawing = funnel_picture(crews, what="critical", width=620)
    assert drawing.count('class="out"') == 1
    assert "C: 14 in 60" in drawing.partition('class="out"')[2].partition("</path>")[0]
