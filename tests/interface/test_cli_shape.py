"""The shape of the command line: exit codes, one sentence an error, no traceback, help at once."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest

from dialtrue.domain.errors import UnknownUnit
from dialtrue.interfaces.cli import run
from tests.support.watch_results import finding, trace, watch_result

Watched = Callable[..., SimpleNamespace]
HEAVY = ("numpy", "pyarrow", "numba", "scipy", "rich", "vl_convert", "python_calamine")


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys; from dialtrue.interfaces.cli import run; run(['--help']); run(['watch', '--help']);"
        "run(['explain', '--help']);"
        f"print('LOADED', [name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert done.stdout.rstrip().endswith("LOADED []")


@pytest.mark.parametrize("command", ["", "watch", "explain", "demo"])
def test_help_fits_and_shows_a_worked_example(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*command.split(), "--help"]) == 0
    text = capsys.readouterr().out
    assert "Example: dialtrue" in text
    assert max(map(len, text.splitlines())) <= 100


def test_findings_that_ask_for_action_end_with_three(watched: Watched, capsys: pytest.CaptureFixture[str]) -> None:
    watched()
    assert run(["watch", "town"]) == 3
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("6 ports")
    assert max(map(len, lines)) <= 100


def test_nothing_to_do_ends_with_zero(watched: Watched, capsys: pytest.CaptureFixture[str]) -> None:
    whole = watch_result()
    summary = type(whole.summary)(6, 10, None, None, {"sound": 6}, 0, 0, 0.0, 0.0, 0.0, "gal")
    watched(watch_result(findings=whole.findings[-1:], crossings=(), summary=summary))
    assert run(["watch", "town"]) == 0
    assert "nothing asks for a visit" in capsys.readouterr().out


def test_wrong_usage_ends_with_two_and_no_traceback(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["watch"]) == 2
    assert run(["wotch", "town"]) == 2
    assert run(["watch", "town", "--show", "many"]) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_known_error_is_one_sentence_with_its_code(watched: Watched, capsys: pytest.CaptureFixture[str]) -> None:
    watched(UnknownUnit(unit="CF", allowed="L, gal"))
    assert run(["watch", "town"]) == UnknownUnit.exit_code
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.splitlines()[-1] == "The unit 'CF' is not known. Use one of L, gal. [UNKNOWN-UNIT]"


def test_known_error_as_json_has_the_stable_shape(watched: Watched, capsys: pytest.CaptureFixture[str]) -> None:
    watched(UnknownUnit(unit="CF", allowed="L, gal"))
    assert run(["watch", "town", "--json"]) == UnknownUnit.exit_code
    error = json.loads(capsys.readouterr().err)["error"]
    assert set(error) == {"code", "message", "remedy", "facts", "status"}
    assert error["code"] == "UNKNOWN-UNIT"


def test_a_bug_says_it_is_ours_and_saves_a_report(
    watched: Watched, capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    watched(ZeroDivisionError("deep inside"))
    assert run(["watch", "town"]) == 1
    said = capsys.readouterr().err
    assert "bug of ours" in said
    assert "Traceback" not in said
    saved = re.search(r"saved at (\S+\.txt)\.", said)
    assert saved is not None
    assert "deep inside" in Path(saved.group(1)).read_text(encoding="utf-8")


def test_debug_shows_the_traceback_wherever_it_stands(watched: Watched) -> None:
    watched(ZeroDivisionError("deep inside"))
    with pytest.raises(ZeroDivisionError):
        run(["watch", "town", "--debug"])


def test_interrupt_ends_with_130_and_a_plain_word(watched: Watched, capsys: pytest.CaptureFixture[str]) -> None:
    watched(KeyboardInterrupt())
    assert run(["watch", "town"]) == 130
    assert capsys.readouterr().err.strip().startswith("Interrupted.")


def test_json_document_is_stable_and_carries_every_finding(
    watched: Watched, capsys: pytest.CaptureFixture[str]
) -> None:
    watched()
    assert run(["watch", "town", "--json"]) == 3
    said = capsys.readouterr()
    document = json.loads(said.out)
    assert set(document) == {
        "form", "summary", "findings", "crossings", "missing", "said", "bad_rows", "repairs",
    }  # fmt: skip
    assert document["form"] == "dialtrue.watch/1"
    assert len(document["findings"]) == 6
    assert document["findings"][0]["since"] == "2025-03-01T06:00:00Z"
    assert document["findings"][0]["evidence"][0]["rule"] == "pairs.ratio"


def test_json_writes_not_a_number_as_null(watched: Watched, capsys: pytest.CaptureFixture[str]) -> None:
    watched(watch_result(findings=(finding(volume_error_l=float("nan"), parameter=float("inf")),)))
    run(["watch", "town", "--json"])
    first = json.loads(capsys.readouterr().out)["findings"][0]
    assert first["volume_error_l"] is None
    assert first["parameter"] is None


def test_options_reach_the_service(watched: Watched) -> None:
    seen = watched()
    run(["watch", "town", "--strict", "--accept", "zeros:sites", "--accept", "dates:reads", "--show", "25"])
    assert seen.arguments == (Path("town"),)
    assert seen.options["strict"] is True
    assert seen.options["accept"] == ("zeros:sites", "dates:reads")
    assert seen.options["traces"] >= 25
    assert seen.options["at"].tzinfo is not None


def test_results_are_written_where_asked(watched: Watched, tmp_path: Path) -> None:
    watched()
    names = {"--out": "findings.csv", "--crossings": "crossings.parquet", "--report": "report.html"}
    words = [word for option, name in names.items() for word in (option, str(tmp_path / name))]
    assert run(["watch", "town", *words]) == 3
    assert {path.name for path in tmp_path.iterdir()} == set(names.values())


def test_dry_run_writes_nothing(watched: Watched, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    watched()
    run(["watch", "town", "--out", str(tmp_path / "f.csv"), "--report", str(tmp_path / "r.html"), "--dry-run"])
    assert list(tmp_path.iterdir()) == []
    assert "Would write" in capsys.readouterr().err


def test_a_name_we_cannot_write_is_refused_before_the_work(watched: Watched, tmp_path: Path) -> None:
    seen = watched()
    assert run(["watch", "town", "--out", str(tmp_path / "findings.xls")]) == 2
    assert run(["watch", "town", "--report", str(tmp_path / "report.pdf")]) == 2
    assert seen.arguments is None


def test_serials_cannot_steer_the_terminal(watched: Watched, capsys: pytest.CaptureFixture[str]) -> None:
    evil = "W\x1b[2J\r\n\x07"
    bad = finding(meter_serial=evil, verdict=f"Counts {evil} nothing.")
    watched(watch_result(findings=(bad,), traces={(evil, "81000042", 1): trace(meter_serial=evil, address=evil)}))
    run(["watch", "town"])
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f]", capsys.readouterr().out)


def test_dial_stands_above_index_in_the_same_columns(watched: Watched, capsys: pytest.CaptureFixture[str]) -> None:
    watched()
    run(["watch", "town"])
    lines = capsys.readouterr().out.splitlines()
    place = next(number for number, line in enumerate(lines) if line.startswith("    dial"))
    dial, index = lines[place], lines[place + 2]
    assert index.startswith("    index")
    assert "[0]" in dial
    assert "−7,965 gal against the dial" in index


def test_innocents_are_notes_and_never_called_vacant(watched: Watched, capsys: pytest.CaptureFixture[str]) -> None:
    watched(watch_result(findings=watch_result().findings[3:]))
    run(["watch", "town"])
    text = capsys.readouterr().out
    notes = text[text.index("Notes, no work on the wiring") :]
    assert "no use registered" in notes
    assert "W-0301" in notes
    assert "vacant" not in text


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_a_plain_terminal_still_shows_the_minus(encoding: str) -> None:
    code = (
        "import sys; from dialtrue.interfaces import cli; "
        "cli.run = lambda words: print('\\N{MINUS SIGN}4\\N{NO-BREAK SPACE}L') or 0; cli.main()"
    )
    environment = {**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"}
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, env=environment)
    assert done.stdout.decode(encoding).replace("\N{NO-BREAK SPACE}", " ").strip() == "-4 L"
