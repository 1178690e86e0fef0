"""The file itself: archival, tagged, complete, the same bytes again, whatever is in it.

Rules of PDF/A-2b (ISO 19005-2) and PDF/UA-1 (ISO 14289-1), by clause, as a public
validation profile states them; no validator could be had here, so that the file is
taken apart by pypdf and qpdf instead, and no conformity is certified.
"""

from __future__ import annotations

import io
import logging
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from pypdf.generic import BooleanObject

from tests.tracker.print import sheets
from tests.tracker.print.sheets import NASTY, bare, item, pdf, sheet, words_of_item
from tracker.print import pdf as making
from tracker.print.pdf import Paper
from tracker.print.printable import MARK, printable
from tracker.print.sheet import CAUTION, Cover, Listed, Mark, Section, Sheet, Table

ROOT = Path(__file__).parents[3]
ITEMS = tuple(item(f"AD-{number}") for number in range(60))


@pytest.fixture(scope="module")
def content() -> bytes:
    return pdf(sheet(*ITEMS))


@pytest.fixture(scope="module")
def read(content: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(content))


@pytest.fixture(scope="module")
def metadata(read: PdfReader) -> str:
    return read.root_object["/Metadata"].get_data().decode("utf-8")


class TestArchival:
    """PDF/A-2b, by clause of ISO 19005-2."""

    def test_6_1_2_the_header_is_followed_by_four_bytes_above_127(
        self, content
    ) -> None:
        assert re.match(rb"%PDF-1\.[0-7]\n%[\x80-\xff]{4,}\n", content)

    def test_6_1_3_an_id_and_nothing_after_the_end(self, content, read) -> None:
        assert len(read.trailer["/ID"]) == 2
        assert content.rstrip(b"\r\n").endswith(b"%%EOF")

    def test_6_1_3_it_is_not_encrypted(self, content: bytes, read) -> None:
        assert "/Encrypt" not in read.trailer
        assert b"/Encrypt" not in content

    def test_6_2_3_colours_have_an_output_intent(self, read: PdfReader) -> None:
        [intent] = read.root_object["/OutputIntents"]
        assert intent["/S"] == "/GTS_PDFA1"
        assert len(intent["/DestOutputProfile"].get_data()) > 100

    def test_6_2_11_4_1_every_font_is_embedded(self, read: PdfReader) -> None:
        found = {name for page in read.pages for name in fonts_of(page)}
        assert len(found) >= 3
        for name, is_embedded in found:
            assert is_embedded, name
            assert re.match(r"/[A-Z]{6}\+(SourceSans3|SourceSerif4|DejaVu)", name)

    def test_6_5_nothing_runs_and_nothing_is_attached(self, content, read) -> None:
        root = read.root_object
        for key in ("/OpenAction", "/AA", "/AcroForm", "/Requirements"):
            assert key not in root, key
        assert "/EmbeddedFiles" not in root.get("/Names", {})
        assert b"/JavaScript" not in content
        assert b"/Launch" not in content

    def test_6_6_4_it_says_what_it_is(self, metadata: str) -> None:
        assert "<pdfaid:part>2</pdfaid:part>" in metadata
        assert "<pdfaid:conformance>B</pdfaid:conformance>" in metadata


class TestAccessible:
    """PDF/UA-1, by clause of ISO 14289-1."""

    def test_5_it_says_what_it_is(self, metadata: str) -> None:
        assert "<pdfuaid:part>1</pdfuaid:part>" in metadata

    def test_6_2_it_is_marked(self, read: PdfReader) -> None:
        assert read.root_object["/MarkInfo"]["/Marked"] == BooleanObject(True)

    def test_7_1_title_and_that_it_is_shown(self, read, metadata: str) -> None:
        assert "Compliance status of MX-4T, serial 4731" in metadata
        shown = read.root_object["/ViewerPreferences"]["/DisplayDocTitle"]
        assert shown == BooleanObject(True)
        assert read.metadata.title == "Compliance status of MX-4T, serial 4731"
        assert read.metadata.author == "Tarnfield Engine Shop"

    def test_7_2_the_language(self, read: PdfReader) -> None:
        assert read.root_object["/Lang"] == "en"

    def test_7_2_tables_hold_rows_of_one_length(self, read: PdfReader) -> None:
        tables = [e for e in elements(read) if e["/S"] == "/Table"]
        assert len(tables) == 1
        for table in tables:
            lengths = {width_of(row) for row in rows_of(table)}
            assert lengths == {11}

    def test_7_2_a_head_and_bodies_hold_rows_of_cells(self, read: PdfReader) -> None:
        [table] = [e for e in elements(read) if e["/S"] == "/Table"]
        parts = [part["/S"] for part in kids(table)]
        assert parts[0] == "/THead"
        assert set(parts[1:]) == {"/TBody"}
        for row in rows_of(table):
            assert row["/S"] == "/TR"
            assert {cell["/S"] for cell in kids(row)} <= {"/TH", "/TD"}

    def test_7_4_2_the_first_heading_is_the_first_level(self, read) -> None:
        found = [e["/S"] for e in elements(read) if re.match(r"/H\d", e["/S"])]
        assert found[0] == "/H1"
        assert set(found[1:]) == {"/H2"}

    def test_7_5_heads_have_a_scope(self, read: PdfReader) -> None:
        heads = [e for e in elements(read) if e["/S"] == "/TH"]
        assert len(heads) == 12  # eleven columns, and the kind of document
        assert {attribute(head, "/Scope") for head in heads} == {"/Column"}

    def test_7_3_shapes_are_artifacts_beside_their_words(self, read) -> None:
        assert not [e for e in elements(read) if e["/S"] == "/Figure"]


def test_a_ragged_table_would_be_seen(read: PdfReader) -> None:
    """The check of rows of one length fails where a row lacks a cell."""
    [table] = [e for e in elements(read) if e["/S"] == "/Table"]
    row = list(rows_of(table))[5]
    whole = width_of(row)
    row["/K"].pop()
    assert width_of(row) == whole - 1


@pytest.mark.skipif(shutil.which("qpdf") is None, reason="qpdf is not installed")
@pytest.mark.parametrize("words", [(), NASTY], ids=["plain", "nasty"])
def test_qpdf_finds_no_fault(content: bytes, words, tmp_path) -> None:
    file = tmp_path / "status.pdf"
    file.write_bytes(pdf(sheets.with_table(words)) if words else content)
    ran = subprocess.run(  # noqa: S603  # a tool of the system with our own file
        ["qpdf", "--check", str(file)],  # noqa: S607
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "No syntax or stream encoding errors found" in ran.stdout


@pytest.mark.parametrize("paper", list(Paper))
def test_every_word_of_every_item_is_found_in_its_order(paper: Paper) -> None:
    text = sheets.text_by_pypdf(pdf(sheet(*ITEMS), paper=paper))
    in_order(text, [word for one in ITEMS for word in words_of_item(one)])


@pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="pdftotext is not installed"
)
@pytest.mark.parametrize("paper", list(Paper))
def test_another_reader_finds_them_too(paper: Paper) -> None:
    text = sheets.text_by_poppler(pdf(sheet(*ITEMS), paper=paper))
    for one in ITEMS:
        for word in words_of_item(one):
            assert bare(word) in text, word


def test_a_sheet_is_as_large_as_its_paper() -> None:
    """ISO 216: 297 by 210 mm; ANSI/ASME Y14.1, size A: 11 by 8.5 in. In points."""
    for paper, size in ((Paper.A4, (841.89, 595.28)), (Paper.LETTER, (792.0, 612.0))):
        page = PdfReader(io.BytesIO(pdf(sheet(*ITEMS), paper=paper))).pages[0]
        width, height = page.mediabox[2:]
        assert (float(width), float(height)) == pytest.approx(size, abs=0.01)


def test_each_page_names_the_engine_its_number_and_the_caution(read) -> None:
    for number, page in enumerate(read.pages, 1):
        text = bare(page.extract_text())
        for words in (
            *sheet().running,
            "head of the chain 7c1e90ab44d209f3",
            f"page {number} of {len(read.pages)}",
            "Treat undetermined as open.",
        ):
            assert bare(words) in text, (number, words)


def test_signature_chain_and_caution_stand_together_on_the_last_page(read) -> None:
    text = bare(read.pages[-1].extract_text())
    for words in (
        "Computed on 24 November 2026 at 14:20 (Europe/London)",
        "7c1e90ab44d209f3" * 4,
        "Name, kind and number of certificate",
        "Signature",
        "Place and date",
        *CAUTION,
    ):
        assert bare(words) in text, words


def test_the_same_sheet_gives_the_same_bytes(content: bytes) -> None:
    assert pdf(sheet(*ITEMS)) == content
    assert pdf(sheet(*ITEMS), paper=Paper.LETTER) != content


def test_another_process_gives_the_same_bytes(content: bytes) -> None:
    """With another hash seed, another folder and another time zone."""
    script = (
        "import sys\n"
        f"sys.path.insert(0, {str(ROOT)!r})\n"
        "from tests.tracker.print.sheets import item, pdf, sheet\n"
        "items = (item(f'AD-{number}') for number in range(60))\n"
        "sys.stdout.buffer.write(pdf(sheet(*items)))\n"
    )
    ran = subprocess.run(  # noqa: S603  # our own script
        [sys.executable, "-c", script],
        capture_output=True,
        check=True,
        cwd="/",
        env={"PYTHONHASHSEED": "7", "TZ": "Pacific/Auckland"},
    )
    assert ran.stdout == content


def test_the_moment_of_making_is_the_one_that_is_given(metadata: str) -> None:
    assert "<xmp:CreateDate>2026-11-24T14:20:07+00:00</xmp:CreateDate>" in metadata


@pytest.mark.parametrize("words", NASTY, ids=range(len(NASTY)))
def test_nasty_words_are_printed_as_words(words: str, caplog) -> None:
    fields = ("subject", "part", "asks", "method", "signatory", "remarks")
    given = dict.fromkeys(fields, words)
    with caplog.at_level(logging.WARNING):
        content = pdf(sheet(item("AD-1", **given), title=words.strip() or "-"))
    assert caplog.messages == []
    text = sheets.text_by_pypdf(content)
    if words.isascii():
        assert text.count(bare(printable(words))) >= 7 or not words.strip()
    assert bare("Runa Tveit") not in text
    assert bare("AD-1") in text


def test_nasty_words_break_no_page(caplog) -> None:
    with caplog.at_level(logging.WARNING):
        content = pdf(sheets.with_table(NASTY))
    assert caplog.messages == []
    for page in PdfReader(io.BytesIO(content)).pages:
        for x, y in places_of_text(page):
            assert 0 <= x <= 842, "text beside the sheet"
            assert 0 <= y <= 596, "text above or below the sheet"


def test_a_row_longer_than_a_sheet_goes_on_on_the_next() -> None:
    long = " ".join(f"word{number}" for number in range(3000))
    text = sheets.text_by_pypdf(pdf(sheet(item("AD-1", remarks=long), item("AD-2"))))
    assert all(f"word{number}" in text for number in range(3000))
    assert "AD-2" in text


def test_what_cannot_be_printed_is_said_once() -> None:
    note = bare(f"{MARK} stands for a character that cannot be printed here")
    marked = sheets.text_by_pypdf(pdf(sheet(item("AD-1", subject="漢字"))))
    assert marked.count(note) == 1
    assert note not in sheets.text_by_pypdf(pdf(sheet(item("AD-1"))))


def test_a_print_that_no_archive_takes_is_made_all_the_same(
    monkeypatch, caplog
) -> None:
    """Were text to slip through that has no glyph, the inspector still gets a print."""
    monkeypatch.setattr(making, "all_printable", lambda words: words)
    content = pdf(sheet(item("AD-1", subject="漢字"), item("AD-2")))
    assert "a print is not archival" in caplog.text
    assert "AD-2" in sheets.text_by_pypdf(content)
    assert b"pdfaid" not in content


def test_a_further_section_is_printed_without_being_told_of(caplog) -> None:
    table = Table(columns=("A", "B", "C"), rows=(("1", "2", ""), ("4", "5", "6")))
    further = Section(key="further", heading="More", says=("Said.",), table=table)
    with caplog.at_level(logging.WARNING):
        text = sheets.text_by_pypdf(pdf(sheet(sections=(further,))))
    assert caplog.messages == []
    assert bare("1 More Said. A B C 1 2 – 4 5 6") in text


def test_an_empty_section_says_so() -> None:
    empty = Section(key="parts", heading="Fitted parts", empty="No part is recorded.")
    text = sheets.text_by_pypdf(pdf(sheet(sections=(empty,))))
    assert bare("1 Fitted parts") in text
    assert bare("No part is recorded.") in text


@pytest.fixture(scope="module")
def pages() -> list[str]:
    both = [replace(sheet(*ITEMS[:20]), title=f"Status of {n}") for n in "AB"]
    made = pdf(*both, title="Status of the engines of ZZ-RHO", cover=cover_of(both))
    found = PdfReader(io.BytesIO(made)).pages
    return [bare(page.extract_text()) for page in found]


class TestSeveral:
    """A first page that lists the engines, and each engine on pages of its own."""

    def test_the_first_page_lists_every_engine_with_its_page(self, pages) -> None:
        first = pages[0]
        assert bare("Status of the engines of ZZ-RHO") in first
        second = next(
            n for n, text in enumerate(pages, 1) if bare("Status of B") in text
        )
        assert second > 2
        in_order(
            first, ["engine 0", "ZZ-RHO", "3 overdue", "2", "engine 1", str(second)]
        )
        assert bare(CAUTION[0]) in first

    def test_each_engine_begins_on_a_page_of_its_own(self, pages) -> None:
        assert bare("Status of A") in pages[1]
        for text in pages:
            assert (
                text.count(bare("Status of A")) + text.count(bare("Status of B")) <= 1
            )

    def test_each_engine_has_its_own_signature(self, pages) -> None:
        signed = [text for text in pages if bare("Place and date") in text]
        assert len(signed) == 2

    def test_pages_are_counted_through(self, pages) -> None:
        assert f"page{len(pages)}of{len(pages)}" in pages[-1]

    def test_without_an_engine_it_says_so(self) -> None:
        nothing = replace(cover_of([]), empty="No engine belonged to it.")
        made = making.pdf_of(
            sheets.Printed(title="T", station="S", sheets=(), cover=nothing),
            paper=Paper.A4,
            made_at=sheets.MADE_AT,
        )
        assert bare("No engine belonged to it.") in sheets.text_by_pypdf(made)


def cover_of(several: list[Sheet]) -> Cover:
    return Cover(
        title="Status of the engines of ZZ-RHO",
        station="Tarnfield Engine Shop",
        as_of="As of 24 November 2026.",
        made="Computed on 24 November 2026",
        engines=tuple(
            Listed(
                subject=f"engine {place}",
                aircraft="ZZ-RHO",
                tsn="1.0 h",
                counts=(Mark("overdue", "3 overdue"),),
                note="",
            )
            for place, _ in enumerate(several)
        ),
        empty="",
    )


def in_order(text: str, words: list[str]) -> None:
    """Find each word behind the one before it."""
    at = 0
    for word in words:
        found = text.find(bare(word), at)
        assert found >= 0, f"{word!r} is not behind what stands before it"
        at = found + len(bare(word))


def fonts_of(holder: Any) -> Iterator[tuple[str, bool]]:
    """Every font of a page and of the drawings in it, and whether it is embedded."""
    resources = holder.get("/Resources", {})
    for font in resources.get("/Font", {}).values():
        whole = font.get_object()
        for inner in whole.get("/DescendantFonts", [whole]):
            descriptor = inner.get_object()["/FontDescriptor"]
            files = {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor)
            yield str(whole["/BaseFont"]), bool(files)
    for drawing in resources.get("/XObject", {}).values():
        yield from fonts_of(drawing.get_object())


def kids(element: Any) -> list[Any]:
    inside = element.get("/K", [])
    listed = inside if isinstance(inside, list) else [inside]
    found = [each.get_object() for each in listed]
    return [each for each in found if isinstance(each, dict) and "/S" in each]


def elements(read: PdfReader) -> Iterator[Any]:
    waiting = kids(read.root_object["/StructTreeRoot"])
    while waiting:
        element = waiting.pop(0)
        yield element
        waiting = kids(element) + waiting


def rows_of(table: Any) -> Iterator[Any]:
    for part in kids(table):
        yield from kids(part)


def width_of(row: Any) -> int:
    return sum(int(attribute(cell, "/ColSpan") or 1) for cell in kids(row))


def attribute(element: Any, name: str) -> Any:
    given = element.get("/A", [])
    for one in given if isinstance(given, list) else [given]:
        if name in one.get_object():
            return one.get_object()[name]
    return None


def places_of_text(page: Any) -> list[tuple[float, float]]:
    found: list[tuple[float, float]] = []

    def seen(text: str, cm: Any, tm: Any, font: Any, size: Any) -> None:
        if text.strip():
            x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
            y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
            found.append((x, y))

    page.extract_text(visitor_text=seen)
    return found
