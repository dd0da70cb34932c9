"""What is said where a library of an extra is not installed."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from dialtrue.interfaces.cli import run
from tests.support.surveys import register, survey


@pytest.mark.parametrize(
    ("arguments", "package", "extra"),
    [
        (("sheets", "--out", "out/sheets.pdf"), "typst", "paper"),
        (("sheets", "--out", "out/sheets.pdf"), "segno", "paper"),
        (("sheets", "--html", "out/sheets.html"), "segno", "paper"),
        (("sheets", "--labels", "out/labels.pdf"), "segno", "paper"),
        (("plan", "--order", "out/order.xlsx"), "xlsxwriter", "paper"),
        (("routes", "--out", "out/routes.csv"), "pyvrp", "routes"),
    ],
    ids=lambda value: value if isinstance(value, str) else " ".join(value[:2]),
)
def test_a_missing_library_names_the_extra_and_leaves_no_file(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    arguments: tuple[str, ...],
    package: str,
    extra: str,
) -> None:
    command, option, name = arguments
    folder = survey(tmp_path, register(f"{package} {option}", "00123"))  # no code is drawn that another test has drawn
    table = (folder / "sites.csv").read_text(encoding="utf-8").splitlines()
    places = ("latitude,longitude", "39.5,-41.2")
    rows = (f"{row},{place}\n" for row, place in zip(table, places, strict=True))
    (folder / "sites.csv").write_text("".join(rows), encoding="utf-8")
    monkeypatch.setitem(sys.modules, package, None)
    code = run([command, str(folder), option, str(tmp_path / name)])
    said = capsys.readouterr().err
    assert code == 2
    assert f"the package {package} is not installed" in said
    assert f"pip install 'dialtrue[{extra}]'" in said
    assert "[EXTRA-MISSING]" in said
    assert not list((tmp_path / "out").glob("*"))
