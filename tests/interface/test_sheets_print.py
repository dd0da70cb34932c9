"""The page of job sheets, printed by a real browser: one page a site on both papers."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from dialtrue.files.job_sheets import sheets_html
from tests.support.job_sheets import every_kind, pages_of, sheets_of

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--no-pdf-header-footer",
)  # fmt: skip


@pytest.mark.skipif(BROWSER is None, reason="no browser on this machine")
@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_page_prints_one_site_to_a_page(paper: str, tmp_path: Path) -> None:
    sheets = sheets_of(every_kind())
    page, printed = tmp_path / "sheets.html", tmp_path / "printed.pdf"
    page.write_text(sheets_html(sheets, paper=paper), encoding="utf-8")
    command = [str(BROWSER), *FLAGS, f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={printed}"]
    subprocess.run([*command, page.as_uri()], check=True, capture_output=True, timeout=60)
    texts = pages_of(printed.read_bytes())
    assert len(texts) == len(sheets)
    for sheet, text in zip(sheets, texts, strict=True):
        assert sheet.site in text
        assert sheet.blanks[-1].label in " ".join(text.split())
