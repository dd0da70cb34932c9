"""Labels on paper: where the grid says, every code read by an independent reader."""

from __future__ import annotations

from collections import Counter

import pypdfium2
import pytest

from dialtrue.domain.job_sheet.label import SHIPPED_GRIDS, labels_for
from dialtrue.files.job_sheets.label_pdf import labels_pdf
from tests.support.job_sheets import codes_of, compound, pages_of, register

pytest.importorskip("typst")

SERIALS = ("00417733", "abc def-12", "MTR-2024-000123-ab", "A" * 29, "№ 12", "#$*\\")


@pytest.mark.parametrize("dpi", [200, 300])
@pytest.mark.parametrize("name", sorted(SHIPPED_GRIDS))
def test_every_code_on_every_label_is_read_by_an_independent_reader(name: str, dpi: int) -> None:
    rows = [*compound(), *(register(site=f"S-{n}", meter_serial=serial) for n, serial in enumerate(SERIALS))]
    labels = labels_for(rows)
    stuck = labels_pdf(labels, SHIPPED_GRIDS[name])
    wanted = Counter({("qr", label.qr_text): 2 if label.kind == "cable" else 1 for label in labels})
    wanted.update(
        ("bar", label.bar_text) for label in labels if label.bar_text and label.meter_serial not in stuck.without_bars
    )
    assert Counter(codes_of(stuck.pdf, dpi=dpi)) == wanted
    assert {"A" * 29, "№ 12"} <= set(stuck.without_bars)
    assert "00417733" not in stuck.without_bars


def test_labels_fill_page_after_page() -> None:
    labels = labels_for([register(site=f"S-{n}") for n in range(11)])
    assert len(labels) == 33
    assert len(pages_of(labels_pdf(labels, SHIPPED_GRIDS["letter"]).pdf)) == 2
    assert len(pages_of(labels_pdf(labels, SHIPPED_GRIDS["single"]).pdf)) == 33


def test_a_label_says_in_print_what_its_codes_say() -> None:
    (page,) = pages_of(labels_pdf(labels_for(compound()), SHIPPED_GRIDS["a4"]).pdf)
    for words in ("HIGH", "LOW", "port 1", "port 2", "meter end", "C-99-118820", "HOSPITAL-01"):
        assert words in page


def test_a_serial_without_bars_says_so_on_its_label() -> None:
    (page,) = pages_of(labels_pdf(labels_for([register(meter_serial="A" * 29)]), SHIPPED_GRIDS["letter"]).pdf)
    assert "QR code only" in page


def test_a_single_label_is_a_page_of_its_own_size_and_bytes_repeat() -> None:
    labels = labels_for([register()])
    pdf = labels_pdf(labels, SHIPPED_GRIDS["single"]).pdf
    assert pypdfium2.PdfDocument(pdf)[0].get_size() == pytest.approx((76 / 25.4 * 72, 25 / 25.4 * 72), abs=0.1)
    assert pdf == labels_pdf(labels, SHIPPED_GRIDS["single"]).pdf
