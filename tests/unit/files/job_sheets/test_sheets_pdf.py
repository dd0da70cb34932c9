"""Sheets on paper: one page a site whatever stands on it, everything readable by an independent reader."""

from __future__ import annotations

import re

import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dialtrue.domain.job_sheet.sheet import SECTIONS
from dialtrue.files.job_sheets.pdf import SCALES, sheets_pdf, sheets_volumes
from tests.support.job_sheets import PARTS, ask, codes_of, compound, every_kind, metric, pages_of, register, sheets_of

pytest.importorskip("typst")

PAPERS = {"letter": (612, 792), "a4": (595.28, 841.89)}
HOSTILE = r"#panic() $x^2$ *bold* _it_ \ ` <a> @b [c] {d} // e /* f https://x.y ~ -- ... 'q' \u{1} &amp;"


def squeezed(text: str) -> str:
    """Return a text without spaces, line ends and marks of invisible breaks."""
    return re.sub(r"[\s\u200b\ufffe\x02]+", "", text)


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_every_kind_of_site_takes_exactly_one_page(paper: str) -> None:
    sheets = sheets_of(every_kind())
    printed = sheets_pdf(sheets, paper=paper)
    pages = pages_of(printed.pdf)
    assert printed.too_long == ()
    assert len(pages) == len(sheets)
    for sheet, text in zip(sheets, pages, strict=True):
        assert f"Site{sheet.site}" in squeezed(text)
        for name in SECTIONS:
            assert name in text
        assert sheet.blanks[-1].label in text  # the foot of the page is there
    size = pypdfium2.PdfDocument(printed.pdf)[0].get_size()
    assert size == pytest.approx(PAPERS[paper], abs=0.1)


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_the_longest_realistic_compound_meter_keeps_to_one_page(paper: str) -> None:
    sheets = sheets_of(compound())
    printed = sheets_pdf(sheets, paper=paper)
    assert printed.too_long == ()
    assert len(pages_of(printed.pdf)) == 1


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_a_compound_meter_with_five_questions_loses_no_line_to_sign(paper: str) -> None:
    asked = (
        "Which pulse output has the register: contact, transistor, or current sensor? Test it, and photograph the "
        "label. How many painted zeros are on the face? What size is the meter? It stands on the body or the plate. "
        "How long is the cable run from the register to the endpoint? Which meter is the neighbour's?"
    )
    printed = sheets_pdf(sheets_of(compound(status="ask", questions=asked)), paper=paper)
    assert (printed.too_long, printed.shrunk) == ((), ("HOSPITAL-01",))
    (page,) = pages_of(printed.pdf)
    assert page.rstrip().endswith("Customer or second person")
    document = pypdfium2.PdfDocument(printed.pdf)
    words = document[0].get_textpage()
    lowest = min(words.get_charbox(place)[1] for place in range(words.count_chars()))
    assert lowest > 8 / 25.4 * 72 - 2  # the foot's margin, less what hangs below the last line
    document.close()
    assert set(codes_of(printed.pdf)) == {("qr", "site=HOSPITAL-01;meter=C-99-118820"), ("bar", "C-99-118820")}


def test_nothing_of_a_page_stands_outside_its_margins() -> None:
    printed = sheets_pdf(sheets_of(every_kind()), paper="letter")
    for page in pypdfium2.PdfDocument(printed.pdf):
        text = page.get_textpage()
        boxes = [text.get_charbox(place) for place in range(text.count_chars())]
        left, bottom, right, top = (
            side(box[n] for box in boxes if box != (0, 0, 0, 0)) for n, side in enumerate((min, min, max, max))
        )
        assert left >= 26  # 10 mm is 28.3 pt
        assert right <= 612 - 26
        assert bottom >= 20  # 8 mm is 22.7 pt
        assert top <= 792 - 20


def test_all_words_of_a_sheet_are_on_its_page() -> None:
    (sheet,) = sheets_of([metric()])
    (page,) = pages_of(sheets_pdf([sheet]).pdf)
    text = squeezed(page)
    said = [fact.text for part in sheet.registers for fact in (*part.facts, *part.keyed)]
    said += [caution.says for caution in sheet.cautions] + [
        check.text for check in (*sheet.terminations, *sheet.as_left)
    ]
    said += [line.title for line in sheet.parts] + [sheet.precedence, sheet.follow_up]
    assert sheet.registers[0].proof is not None
    assert sheet.registers[0].start is not None
    said += [*sheet.registers[0].proof.notes, sheet.registers[0].start.rule]
    for words in said:
        assert squeezed(words) in text, words


def test_questions_stand_above_the_work() -> None:
    (page,) = pages_of(sheets_pdf(sheets_of([ask()])).pdf)
    assert page.index("Ask and write down before any work") < page.index("How many painted zeros") < page.index("Heed")


@pytest.mark.parametrize("text", [HOSTILE, "W" * 120, "בור מים 12", "بئر ٣", "Łąkowa Δ ſt № 4½", "", " "])
def test_texts_from_files_are_printed_not_obeyed(text: str) -> None:
    (sheet,) = sheets_of(
        [register(site=text or "-", address=text, meter_serial=text or "-", proof_note=text, area=text)]
    )
    printed = sheets_pdf([sheet])
    (page,) = pages_of(printed.pdf)
    address = next(fact.text for fact in sheet.where if fact.label == "Address")
    if text == HOSTILE or text.startswith(("W", "Ł")):
        assert squeezed(address) in squeezed(page)


def test_a_page_that_cannot_hold_its_words_is_named_and_stays_one_page() -> None:
    endless = {
        part.part: f"{part.part} with a name that goes on and on for lines and lines of its column" for part in PARTS
    }
    asked = " ".join(f"What stands on the {place} plate, and {'who says so, and ' * 12}why?" for place in range(8))
    full = compound(status="ask", questions=asked)
    printed = sheets_pdf(sheets_of([*full, register()], titles=endless))
    assert printed.too_long == ("HOSPITAL-01",)
    assert len(pages_of(printed.pdf)) == 2


def test_bytes_repeat() -> None:
    sheets = sheets_of(every_kind())
    assert sheets_pdf(sheets).pdf == sheets_pdf(sheets).pdf


def test_the_document_is_tagged_and_has_title_and_language() -> None:
    pdf = sheets_pdf(sheets_of([register()]), title="Job sheets, Bobbin").pdf
    document = pypdfium2.PdfDocument(pdf)
    assert document.get_metadata_dict()["Title"] == "Job sheets, Bobbin"
    assert document.get_metadata_dict()["CreationDate"] == ""
    assert b"/Lang (en)" in pdf or b"/Lang(en)" in pdf
    assert b"/StructTreeRoot" in pdf
    assert b"QR code of site=S-1042" in pdf
    assert b"<pdfuaid:part>1</pdfuaid:part>" in pdf


def test_only_fonts_that_are_carried_are_used() -> None:
    pdf = sheets_pdf(sheets_of(every_kind())).pdf
    families = {name.split(b"-")[0] for name in re.findall(rb"/BaseFont\s*/[A-Z]{6}\+([A-Za-z-]+)", pdf)}
    assert families <= {b"LibertinusSerif", b"DejaVuSansMono"}
    assert families


@pytest.mark.parametrize("dpi", [200, 300])
def test_every_code_of_every_sheet_is_read_by_an_independent_reader(dpi: int) -> None:
    long = "AB-" + "x1" * 20
    rows = [*every_kind(), register(site="L", meter_serial=long), register(site="№ 7", meter_serial="بئر 3")]
    sheets = sheets_of(rows)
    read = codes_of(sheets_pdf(sheets).pdf, dpi=dpi)
    assert sorted(text for kind, text in read if kind == "bar") == sorted(
        serial for sheet in sheets for serial in sheet.serial_codes if serial.isascii() and serial != long
    )
    others = [serial for sheet in sheets for serial in sheet.serial_codes if not serial.isascii() or serial == long]
    assert sorted(text for kind, text in read if kind == "qr") == sorted(
        [*(sheet.site_code for sheet in sheets), *others]
    )


def test_characters_without_a_glyph_are_squares_and_are_told_while_their_code_keeps_them() -> None:
    (sheet,) = sheets_of([register(site="北 7", address="東京 Mill Lane")])
    printed = sheets_pdf([sheet])
    assert set(printed.not_shown) == set("北東京")
    (page,) = pages_of(printed.pdf)
    assert "□□ Mill Lane" in page
    assert ("qr", "site=北 7;meter=00417733") in codes_of(printed.pdf)


@pytest.mark.parametrize("mark", ["\u0610", "\ue000", "\U0001f6b0", "\u0e01"])
def test_marks_that_no_typeface_has_leave_a_page(mark: str) -> None:
    assert len(pages_of(sheets_pdf(sheets_of([register(address=f"a{mark}b")])).pdf)) == 1


@settings(max_examples=8, deadline=None)
@given(st.text(max_size=60), st.text(max_size=60), st.text(max_size=200))
def test_whatever_stands_in_a_cell_a_site_has_one_page(site: str, serial: str, note: str) -> None:
    sheets = sheets_of(
        [register(site=site, meter_serial=serial, address=note, proof_note=note, area=site, meter_size=serial)]
    )
    assert len(pages_of(sheets_pdf(sheets).pdf)) == 1


def test_many_sheets_become_volumes_each_as_if_set_alone() -> None:
    sheets = sheets_of([register(site=f"S-{n}", mount="wall") for n in range(3)])
    volumes = [printed.pdf for printed in sheets_volumes(sheets, most=2, title="Job sheets")]
    assert [len(pages_of(volume)) for volume in volumes] == [2, 1]
    assert volumes[1] == sheets_pdf(sheets[2:], title="Job sheets, volume 2 of 2").pdf


def test_short_pages_have_larger_letters_than_full_ones() -> None:
    def size(rows: list[object]) -> float:
        page = pypdfium2.PdfDocument(sheets_pdf(sheets_of(rows)).pdf)[0]  # type: ignore[arg-type]
        text = page.get_textpage()
        words = text.get_text_range()
        box = text.get_charbox(words.index("Reminders"))
        return box[3] - box[1]

    short = register(parts=(), proof_note="", mount="wall")
    assert size([short]) > size(list(compound())) * 1.1
    assert SCALES[0] > SCALES[-1]
