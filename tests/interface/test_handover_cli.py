"""``dialtrue handover`` as a clerk meets it: what goes out, what stays, what is said, what is refused."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest

from dialtrue.domain.errors import HandoverDamaged
from dialtrue.files.handover import tables as forms
from dialtrue.files.handover.manifest import check_handover
from dialtrue.interfaces.cli import run
from tests.support.handovers import FITTED, hourly, make_programme, rows_of

MIXED: dict[str, dict[str, Any]] = {
    "good": {},
    "leaking": {"finding": {"fault": "customer_leak", "probability": "0.6", "runner_up": "sound",
                            "runner_up_probability": "0.3"}},
    "dead": {"finding": {"fault": "dead_input", "action": "visit", "since": "2026-03-05T00:00:00Z",
                         "remedy": "Mend the splice at meter M-dead."}},
    "mended": {"finding": {"fault": "lost_counts", "since": "2026-03-02T03:00:00Z"}},
    "slipped": {"fitting": {"start_index": "00123540"}},
    "nameless": {"site": {"account": ""}},
    "blank": {"fitting": {"weight_set": ""}},
    "silent": {"reads": []},
    "new": {"finding": None},
    "twin1": {"fitting": {"endpoint_serial": "E-twin"}, "reads": []},
    "twin2": {"fitting": {"endpoint_serial": "E-twin"}},
}  # fmt: skip
CHECKS = [{"meter_serial": "M-mended", "endpoint_serial": "E-mended", "port": "1", "checked_at": "2026-03-02T12:00:00Z",
           "found": "lost_counts", "put_right": "true"}]  # fmt: skip


@pytest.fixture
def programme(tmp_path: Path) -> Path:
    make_programme(tmp_path / "p", MIXED, checks=CHECKS)
    return tmp_path / "p"


def handover(folder: Path, *words: str) -> int:
    out = folder.parent / "out"
    return run(["handover", str(folder), "--out", str(out), "--findings", str(folder.parent / "findings.csv"), *words])


def test_only_what_a_bill_may_rest_on_goes_out(programme: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert handover(programme) == 3
    said = capsys.readouterr()
    out = programme.parent / "out"
    assert said.out.startswith("3 of 11 fitted ports handed over with 132 reads; 8 left out.")
    assert "your tariff and local law" in said.out
    assert max(map(len, said.out.splitlines())) <= 100
    installs = {row["meter_serial"]: row for row in rows_of(out / "installs.csv")}
    assert set(installs) == {"M-good", "M-leaking", "M-mended"}
    assert installs["M-good"]["account"] == "A-good"
    assert installs["M-mended"]["valid_from"] == "2026-03-02T12:00:00Z"
    assert installs["M-good"]["valid_from"] == FITTED
    left = {row["meter_serial"]: row for row in rows_of(out / "left_out.csv")}
    assert {name: row["rules"] for name, row in left.items()} == {
        "M-dead": "not_sound", "M-slipped": "start_differs", "M-nameless": "record_incomplete",
        "M-blank": "record_incomplete", "M-silent": "no_reads", "M-new": "no_finding", "M-twin1": "shared_port",
        "M-twin2": "shared_port",
    }  # fmt: skip
    assert "Mend the splice" in left["M-dead"]["remedy"]
    assert all(row["reason"] and row["remedy"] for row in left.values())
    assert min(row["at"] for row in rows_of(out / "reads.csv") if row["meter_serial"] == "M-mended") == (
        "2026-03-02T12:00:00Z"
    )


def test_all_passing_ends_with_nought(tmp_path: Path) -> None:
    make_programme(tmp_path / "p", {"a": {}, "b": {}})
    assert handover(tmp_path / "p", "--form", "csv") == 0
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        "datapackage.json", "installs.csv", "left_out.csv", "manifest.json", "reads.csv",
    ]  # fmt: skip


def test_doubtful_ports_go_out_marked_where_asked(programme: Path) -> None:
    assert handover(programme, "--include-doubtful", "--form", "csv") == 3
    out = programme.parent / "out"
    status = {row["meter_serial"]: row["status"] for row in rows_of(out / "installs.csv")}
    assert status["M-good"] == "accepted"
    assert status["M-dead"] == status["M-slipped"] == status["M-new"] == "doubtful"
    assert not {"M-twin1", "M-twin2", "M-silent", "M-blank"} & set(status)
    quality = {(row["meter_serial"], row["quality"]) for row in rows_of(out / "reads.csv")}
    assert ("M-good", "raw") in quality
    assert ("M-dead", "questionable") in quality
    assert ("M-dead", "raw") not in quality


def test_nothing_that_points_at_a_customer_goes_out_without_accounts(programme: Path) -> None:
    assert handover(programme, "--without-accounts", "--salt", "half a sentence", "--daily") == 3
    out = programme.parent / "out"
    for path in out.rglob("*"):
        if path.is_file():
            data = path.read_bytes()
            assert not any(word in data for word in (b"A-good", b"M-", b"S-", b"E-", b"Kiln", b"half a sentence")), path
    manifest = json.loads((out / "manifest.json").read_text())
    assert "keyed hash with a salt that the sender gave" in manifest["privacy"]
    assert manifest["reads_kept"] == "the last of each local day"
    # The reads begin at 1 in the morning in Rome, on 2 March; 47 hours later it is 4 March: three local days.
    good = rows_of(out / "installs.csv")
    reads = rows_of(out / "reads.csv")
    assert len(reads) == 3 * len(good)
    assert {row["at"][11:13] for row in reads} == {"22", "23"}
    first = [row["endpoint_serial"] for row in good]
    assert handover(programme, "--without-accounts", "--salt", "half a sentence", "--form", "csv") == 3
    assert [row["endpoint_serial"] for row in rows_of(out / "installs.csv")] == first
    assert handover(programme, "--without-accounts", "--form", "csv") == 3
    assert not set(first) & {row["endpoint_serial"] for row in rows_of(out / "installs.csv")}
    assert "not kept" in (out / "manifest.json").read_text()


def test_repeated_twice_and_contradicting_reads_stay_out_and_are_counted(tmp_path: Path) -> None:
    reads = hourly(4)
    reads += [reads[0], (reads[1][0], 999, ""), ("2026-03-03T00:00:00Z", 123_500, "repeated")]
    reads += [("2026-02-01T00:00:00Z", 5, "")]
    make_programme(tmp_path / "p", {"a": {"reads": reads}, "b": {"fitting": {"removed_at": "2026-03-02T10:00:00Z"}}})
    assert handover(tmp_path / "p", "--json") == 0
    out = tmp_path / "out"
    by_port = [row["endpoint_serial"] for row in rows_of(out / "reads.csv")]
    assert (by_port.count("E-a"), by_port.count("E-b")) == (3, 10)
    counts = json.loads((out / "manifest.json").read_text())["counts"]["reads_left_out"]
    assert counts["marked as repeated"] == 1
    assert counts["two values for one moment"] == 2
    assert counts["outside a fitting, or of a port that is left out"] == 1 + 38


def test_a_port_that_moved_to_another_meter_keeps_its_reads_apart(tmp_path: Path) -> None:
    make_programme(
        tmp_path / "p",
        {
            "one": {"fitting": {"removed_at": "2026-03-02T10:30:00Z"}},
            "two": {"fitting": {"endpoint_serial": "E-one", "fitted_at": "2026-03-02T10:30:00Z"},
                    "finding": {"endpoint_serial": "E-one"}, "reads": []},
        },
    )  # fmt: skip
    assert handover(tmp_path / "p", "--form", "csv") == 0
    meters = [row["meter_serial"] for row in rows_of(tmp_path / "out" / "reads.csv")]
    assert (meters.count("M-one"), meters.count("M-two")) == (11, 37)


def test_an_endpoint_fitted_twice_to_one_meter_is_judged_by_the_worse_finding(tmp_path: Path) -> None:
    findings = make_programme(tmp_path / "p", {"a": {}, "b": {}})
    text = findings.read_text()
    findings.write_text(text + text.splitlines()[1].replace(",sound,", ",lost_counts,") + "\n")
    assert handover(tmp_path / "p", "--form", "csv") == 3
    assert [row["verdict"] for row in rows_of(tmp_path / "out" / "left_out.csv")] == ["lost_counts"]


def test_the_manifest_says_where_the_verdicts_came_from(programme: Path) -> None:
    handover(programme, "--form", "csv")
    manifest = json.loads((programme.parent / "out" / "manifest.json").read_text())
    digest = hashlib.sha256((programme.parent / "findings.csv").read_bytes()).hexdigest()
    assert manifest["verdicts_from"] == f"findings.csv, SHA-256 {digest}"
    assert manifest["counts"]["left_out"] == 8


def test_the_checker_names_what_differs(programme: Path, capsys: pytest.CaptureFixture[str]) -> None:
    handover(programme)
    out = programme.parent / "out"
    assert run(["handover", "--check", str(out)]) == 0
    assert "as the manifest says" in capsys.readouterr().out
    text = (out / "reads.csv").read_text()
    (out / "reads.csv").write_text(text.replace("123.457", "123.475", 1))
    (out / "stray.csv").write_text("x")
    (out / "installs.csv").unlink()
    assert run(["handover", "--check", str(out)]) == 18
    said = capsys.readouterr().err
    for word in ("reads.csv (other content)", "stray.csv (not in the manifest)", "installs.csv (missing)"):
        assert word in said
    with pytest.raises(HandoverDamaged):
        check_handover(out)
    (out / "manifest.json").write_text("[]")
    assert run(["handover", "--check", str(out)]) == 18
    assert "NO-MANIFEST" in capsys.readouterr().err


def test_a_manifest_that_points_outside_its_folder_is_not_followed(tmp_path: Path) -> None:
    make_programme(tmp_path / "p", {"a": {}})
    handover(tmp_path / "p", "--form", "csv")
    path = tmp_path / "out" / "manifest.json"
    document = json.loads(path.read_text())
    document["files"][0]["path"] = "../findings.csv"
    path.write_text(json.dumps(document))
    assert run(["handover", "--check", str(tmp_path / "out")]) == 18


def test_the_same_programme_gives_the_same_bytes(programme: Path) -> None:
    handover(programme)
    out = programme.parent / "out"
    first = {path.name: path.read_bytes() for path in out.iterdir() if path.suffix in (".csv", ".parquet")}
    handover(programme)
    assert first == {path.name: path.read_bytes() for path in out.iterdir() if path.suffix in (".csv", ".parquet")}


@pytest.mark.parametrize("name", ["sites", "fittings", "reads"])
def test_a_programme_that_holds_nothing_to_hand_over_is_refused(
    programme: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (programme / f"{name}.csv").unlink()
    assert handover(programme) == 10
    assert f"there are no {name}" in capsys.readouterr().err
    assert not (programme.parent / "out").exists()


def test_findings_of_another_programme_are_refused(programme: Path, capsys: pytest.CaptureFixture[str]) -> None:
    make_programme(programme.parent / "elsewhere" / "q", {"x": {}, "y": {}})
    words = ["--findings", str(programme.parent / "elsewhere" / "findings.csv")]
    assert run(["handover", str(programme), "--out", str(programme.parent / "out"), *words]) == 18
    assert "FINDINGS-OF-ANOTHER" in capsys.readouterr().err
    words = ["--findings", str(programme.parent / "nothing.csv")]
    assert run(["handover", str(programme), "--out", str(programme.parent / "out"), *words]) != 0


def test_a_folder_of_somebody_elses_is_left_alone(programme: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = programme.parent / "out"
    out.mkdir()
    (out / "letter.txt").write_text("dear")
    assert handover(programme) == 2
    assert "HANDOVER-FOLDER-TAKEN" in capsys.readouterr().err
    assert [path.name for path in out.iterdir()] == ["letter.txt"]
    (programme.parent / "blocked").write_text("a file")
    words = ["--findings", str(programme.parent / "findings.csv")]
    assert run(["handover", str(programme), "--out", str(programme.parent / "blocked" / "out"), *words]) != 0
    assert "OUTPUT-NOT-WRITTEN" in capsys.readouterr().err


def test_a_run_that_breaks_off_leaves_the_old_handover(
    programme: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    handover(programme)
    out = programme.parent / "out"
    before = (out / "manifest.json").read_bytes()

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(forms.ReadsTables, "add", full)
    assert handover(programme) != 0
    assert "no space left on device" in capsys.readouterr().err
    assert (out / "manifest.json").read_bytes() == before
    assert {path.name for path in programme.parent.iterdir()} == {"p", "out", "findings.csv"}
    check_handover(out)


@pytest.mark.parametrize(
    "words",
    [["handover"], ["handover", "p"], ["handover", "p", "--check", "q"], ["handover", "p", "--out", "q", "--salt", "x"],
     ["handover", "p", "--out", "q", "--least-probability", "0.2"]],
)  # fmt: skip
def test_options_that_do_not_go_together_are_refused(words: list[str]) -> None:
    assert run(words) == 2


def test_without_findings_the_watch_is_run(tmp_path: Path) -> None:
    make_programme(tmp_path / "p", {"a": {"reads": hourly(24 * 14)}, "b": {"reads": hourly(24 * 14, step=3)}})
    code = run(["handover", str(tmp_path / "p"), "--out", str(tmp_path / "out"), "--json", "--form", "parquet"])
    assert code in (0, 3)
    counts = json.loads((tmp_path / "out" / "manifest.json").read_text())["counts"]
    assert counts["handed_over"] + counts["left_out"] == counts["fitted_ports"] == 2


def test_validated_reads_go_out_with_their_estimates_and_qualities(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    reads = hourly(24 * 12)
    gap = [read for place, read in enumerate(reads) if place != 100]
    make_programme(tmp_path / "p", {"a": {"reads": gap}, "b": {"reads": reads}})
    for name in ("validated.parquet", "validated.csv", "validated.csv.gz"):
        validated = tmp_path / name
        assert run(["validate", str(tmp_path / "p"), "--out", str(validated)]) in (0, 3)
        assert handover(tmp_path / "p", "--validated", str(validated)) == 0
        rows = rows_of(tmp_path / "out" / "reads.csv")
        assert len(rows) == 2 * len(reads)
        (made,) = [row for row in rows if row["quality"] == "interpolated"]
        assert (made["endpoint_serial"], made["at"], int(made["index"])) == ("E-a", reads[100][0], reads[100][1])
        assert {row["quality"] for row in rows} <= {"validated", "raw", "interpolated"}
        assert "<quality>9</quality>" in (tmp_path / "out" / "espi" / "part-0001.xml").read_text()
        assert f"{name}, SHA-256" in (tmp_path / "out" / "manifest.json").read_text()
    (tmp_path / "validated.csv").write_text("endpoint_serial,port\nE-a,1\n")
    assert handover(tmp_path / "p", "--validated", str(tmp_path / "validated.csv")) == 15
    (tmp_path / "validated.parquet").write_bytes(b"PAR1 nothing")
    assert handover(tmp_path / "p", "--validated", str(tmp_path / "validated.parquet")) == 17
    cut = (tmp_path / "validated.csv.gz").read_bytes()
    (tmp_path / "validated.csv.gz").write_bytes(cut[: len(cut) // 2])
    assert handover(tmp_path / "p", "--validated", str(tmp_path / "validated.csv.gz")) == 17
    (tmp_path / "validated.csv").write_text("endpoint_serial,port,at,index,estimate,quality\nE-a,1,2026-03-02,5,,77\n")
    assert handover(tmp_path / "p", "--validated", str(tmp_path / "validated.csv")) == 17
    assert handover(tmp_path / "p", "--validated", str(tmp_path / "none.csv")) != 1
    assert "there is no such file" in capsys.readouterr().err


def test_a_sound_port_of_which_only_a_look_is_asked_may_be_let_through(tmp_path: Path) -> None:
    make_programme(tmp_path / "p", {"a": {"finding": {"action": "remote_check", "next_check": "See the dial."}}})
    assert handover(tmp_path / "p", "--form", "csv") == 3
    assert rows_of(tmp_path / "out" / "left_out.csv")[0]["remedy"] == "See the dial."
    assert handover(tmp_path / "p", "--form", "csv", "--allow-checks") == 0


def test_a_port_that_only_estimates_speak_of_was_not_heard(tmp_path: Path) -> None:
    estimates = [(at, index, "estimated") for at, index, _ in hourly(5)]
    make_programme(tmp_path / "p", {"a": {"reads": estimates}, "b": {}})
    assert handover(tmp_path / "p", "--form", "csv") == 3
    assert [(row["meter_serial"], row["rules"]) for row in rows_of(tmp_path / "out" / "left_out.csv")] == [
        ("M-a", "no_reads")
    ]


def test_bad_rows_and_ports_without_a_fitting_are_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    make_programme(tmp_path / "p", {"a": {}, "b": {}})
    with (tmp_path / "p" / "reads.csv").open("a", encoding="utf-8") as reads:
        reads.write("E-stranger,1,2026-03-04T00:00:00Z,5,\nE-a,1,yesterday,5,\n")
    with (tmp_path / "p" / "fittings.csv").open("a", encoding="utf-8") as fittings:
        fittings.write("S-c,M-c,single,E-c,1,some day" + "," * 10 + "\n")
    assert handover(tmp_path / "p", "--form", "csv") == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "1 port heard that no fitting names; the reads stay out: E-stranger port 1." in said
    assert "reads.csv: 1 bad row left out" in said
    assert "fittings.csv: 1 bad row left out" in said
    assert json.loads((tmp_path / "out" / "manifest.json").read_text())["counts"]["unfitted_ports"] == 1
