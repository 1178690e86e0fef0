"""Files as they come: encodings, delimiters, limits, hostile workbooks, nasty text."""

from __future__ import annotations

import csv
import io
import zipfile
from datetime import date, datetime
from decimal import Decimal

import openpyxl
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tracker.fleet.sheets import cells
from tracker.fleet.sheets.plan import entered
from tracker.fleet.sheets.reading import read_sheet, unguarded
from tracker.fleet.sheets.rows import SheetRefused
from tracker.fleet.sheets.writing import guarded, write_csv, write_xlsx

NOTE = cells.text("note", "Anything.", longest=10_000)
MORE = cells.several("more", "Anything.", longest=100)
COLUMNS = (
    NOTE,
    cells.hours("hours", "Hours."),
    cells.day("day", "A day."),
    MORE,
)


def rows_of(content: bytes) -> list[tuple[str, ...]]:
    sheet = read_sheet(content, "sheet")
    return [sheet.header.cells, *(row.cells for row in sheet.rows)]


def workbook(*rows: list[object]) -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def repacked(content: bytes, **entries: bytes | None) -> bytes:
    """A workbook with entries replaced or added, compressed as well as can be."""
    file = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as new,
    ):
        for name in old.namelist():
            if name not in entries:
                new.writestr(name, old.read(name))
        for name, data in entries.items():
            if data is not None:
                new.writestr(name, data)
    return file.getvalue()


SHEET = "xl/worksheets/sheet1.xml"


@pytest.mark.parametrize(
    "content",
    [
        b"a,b\n1,2\n",
        b"a;b\r\n1;2\r\n",
        b"a\tb\n1\t2",
        b"\xef\xbb\xbfa,b\n1,2",
        b'"a","b"\n"1","2"\n',
        b"\n\n a , b \n\n 1 , 2 \n,,\n",
        b'a;b\n"1";"2"',
        workbook(["a", "b"], [1, "2"]),
        workbook(["a", "b"], [], [1.0, 2], [None, None, None]),
    ],
)
def test_a_sheet_is_read_in_every_common_form(content) -> None:
    assert rows_of(content) == [("a", "b"), ("1", "2")]


def test_lines_are_counted_as_a_spreadsheet_shows_them() -> None:
    sheet = read_sheet(b'a,b\n\n"1\nx",2\n3,4\n', "x")
    assert [row.line for row in sheet.rows] == [3, 5]
    book = read_sheet(workbook(["a"], [], ["1"]), "x")
    assert [row.line for row in book.rows] == [3]


def test_cells_of_a_workbook_become_the_text_that_a_person_would_type() -> None:
    values = [1, 512.3, 0.1 + 0.2, 1e15, date(2026, 5, 31), datetime(2026, 5, 31, 8)]  # noqa: DTZ001  # as a cell has it
    assert rows_of(workbook(["a"], [*values, True, " x "]))[1] == (
        "1",
        "512.3",
        "0.3",
        "1000000000000000",
        "2026-05-31",
        "2026-05-31T08:00:00",
        "yes",
        "x",
    )


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "The file is empty"),
        (b"\n , ,\n", "The file is empty"),
        (workbook([]), "The file is empty"),
        (b"a,b\n\xff\xfe", "Byte 5 of the file is not UTF-8"),
        ("a,b".encode("utf-16"), "is not UTF-8"),
        (b"a\0,b\n", "null characters"),
        (b'a,b\n1,2\n"3,4\n', "Line 3 of the file cannot be read as CSV"),
        (b'a,b\n"1"x,2\n', "Line 2 of the file cannot be read as CSV"),
        (b"a\n" + b"x" * 200_000, "Line 2 of the file cannot be read as CSV"),
        (b"a\n" + b"x" * 10_001, "Line 2 has a cell of 10,001 characters"),
        (b"a," * 200 + b"a", "Line 1 has 201 columns"),
        (b"a\n" + b"1\n" * 50_001, "more than 50,000 rows"),
        (b"x" * 10_000_001, "at most 10,000,000 are read"),
        (b"PK\x03\x04", "cannot be read as an XLSX workbook"),
        (b"PK\x03\x04" + b"\0" * 500, "cannot be read as an XLSX workbook"),
    ],
)
def test_a_file_that_is_no_sheet_is_refused_with_the_reason(content, said) -> None:
    with pytest.raises(SheetRefused, match=said):
        read_sheet(content, "x")


BOMB = b'<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY a "ha">%s]>' % b"".join(
    b'<!ENTITY %c "&%c;&%c;&%c;&%c;&%c;&%c;&%c;&%c;&%c;&%c;">'
    % (98 + n, *([97 + n] * 10))
    for n in range(9)
)
NAMESPACE = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def sheet_xml(data: bytes, before: bytes = b"") -> bytes:
    return b'%s<worksheet xmlns="%s"><sheetData>%s</sheetData></worksheet>' % (
        before,
        NAMESPACE,
        data,
    )


HOSTILE = {
    "unpacks to much": (
        {SHEET: b"<a>" + b" " * 30_000_000},
        "more than 100 times its size",
    ),
    "unpacks to more than is read": (
        {f"x{n}": bytes(range(256)) * 80_000 for n in range(5)},
        "at most 100,000,000 are read",
    ),
    "many entries": ({f"x{n}": b"" for n in range(1001)}, "entries, too many"),
    "path upwards": ({"../evil": b""}, "path that leads out"),
    "absolute path": ({"/evil": b""}, "path that leads out"),
    "macros": ({"xl/vbaProject.bin": b""}, "macros or links"),
    "links": ({"xl/externalLinks/externalLink1.xml": b""}, "macros or links"),
    "entities": (
        {
            SHEET: sheet_xml(
                b'<row r="1"><c t="inlineStr"><is><t>&j;</t></is></c></row>', BOMB
            )
        },
        "cannot be read",
    ),
    "file from outside": (
        {
            SHEET: sheet_xml(
                b'<row r="1"><c t="inlineStr"><is><t>&x;</t></is></c></row>',
                b'<!DOCTYPE x [<!ENTITY x SYSTEM "file:///etc/hostname">]>',
            )
        },
        "cannot be read",
    ),
    "no sheet": ({SHEET: None}, "cannot be read"),
    "broken sheet": ({SHEET: b"<worksheet"}, "cannot be read"),
    "broken book": ({"xl/workbook.xml": b"<x/>"}, "cannot be read"),
    "wide row": (
        {SHEET: sheet_xml(b'<row r="1"><c r="XFD1"><v>1</v></c></row>')},
        "Line 1 reaches to column 16,384",
    ),
    "wide filled row": (
        {SHEET: sheet_xml(b'<row r="1">%s</row>' % (b"<c><v>1</v></c>" * 250))},
        "Line 1 has 250 columns",
    ),
    "row far below": (
        {SHEET: sheet_xml(b'<row r="1048576"><c r="A1048576"><v>1</v></c></row>')},
        "goes below line 50,001",
    ),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_workbook_is_refused_at_once(name) -> None:
    entries, said = HOSTILE[name]
    with pytest.raises(SheetRefused, match=said):
        read_sheet(repacked(workbook(["a"], ["1"]), **entries), "x")


def test_a_workbook_is_not_believed_about_its_own_size() -> None:
    data = b'<row r="1"><c r="A1"><v>1</v></c></row><row r="2"><c r="A2"><v>2</v></c></row>'
    lying = b'<worksheet xmlns="%s"><dimension ref="A1:A1"/><sheetData>%s</sheetData></worksheet>'
    content = repacked(workbook(["a"]), **{SHEET: lying % (NAMESPACE, data)})
    assert rows_of(content) == [("1",), ("2",)]


def test_a_formula_in_a_workbook_counts_by_its_stored_value() -> None:
    data = b'<row r="1"><c r="A1"><v>7</v></c></row><row r="2"><c r="A2"><f>1+1</f><v>2</v></c></row>'
    content = repacked(workbook(["a"]), **{SHEET: sheet_xml(data)})
    assert rows_of(content) == [("7",), ("2",)]


def what_is_said(content: bytes) -> str:
    """The reason for a refusal; anything else that is raised fails the test."""
    try:
        read_sheet(content, "x")
    except SheetRefused as refused:
        return str(refused)
    return "Read."


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(content) -> None:
    assert what_is_said(content).endswith(".")


@given(st.data())
def test_a_damaged_workbook_is_read_or_refused(data) -> None:
    content = bytearray(GOOD)
    for _ in range(data.draw(st.integers(1, 6))):
        content[data.draw(st.integers(4, len(content) - 1))] = data.draw(
            st.integers(0, 255)
        )
    assert what_is_said(bytes(content)).endswith(".")


GOOD = workbook(["a", "b"], ["x", 1.5], [date(2026, 1, 1), True])

SIGNS = "=+-@\t\r\n＝＋－＠' \"';,a1\u00a0\u200b\x85\u2028é\U0001f6e9"
nasty = st.text(st.sampled_from(SIGNS), max_size=12) | st.text(max_size=20)


@given(nasty)
@example("'=1")
@example("''@")
@example("' -1")
@example("\t=1")
@example("'\tx")
def test_exactly_our_own_apostrophe_comes_off_again(text) -> None:
    assert unguarded(guarded(text)) == text


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@x", "\t1", "\r1", "\n1", " =1", "＝1", "'=1"]
)
def test_no_text_of_a_csv_file_runs_as_a_formula(text) -> None:
    content = write_csv(COLUMNS, [{"note": text}]).decode("utf-8-sig")
    [_, [cell, *_]] = csv.reader(io.StringIO(content, newline=""))
    assert cell.startswith("'")


def test_numbers_and_dates_of_a_csv_file_stay_bare() -> None:
    row = {"note": "-5", "hours": 51230, "day": date(2026, 5, 31)}
    lines = write_csv(COLUMNS, [row]).decode("utf-8-sig").splitlines()
    assert lines[1] == '"\'-5",512.3,"2026-05-31",""'


def test_cells_of_a_written_workbook_have_their_types() -> None:
    row = {"note": "=1+1", "hours": 51230, "day": date(2026, 5, 31)}
    book = openpyxl.load_workbook(io.BytesIO(write_xlsx(COLUMNS, [row])))
    note, hours, day, more = book.active[2]
    assert (note.data_type, note.value) == ("s", "=1+1")
    assert (hours.data_type, hours.value) == ("n", 512.3)
    assert (day.data_type, day.value.date()) == ("d", date(2026, 5, 31))
    assert more.value is None


def read_back(content: bytes) -> list[dict[str, object]]:
    rows, faults = entered(read_sheet(content, "x"), COLUMNS)
    assert faults == []
    return [row.values for row in rows]


def kept(text: str) -> str | None:
    """The text as the register would keep it, None if it would not."""
    try:
        return NOTE.read(text) or None
    except ValueError:
        return None


entered_rows = st.lists(
    st.fixed_dictionaries(
        {"note": nasty.map(kept).filter(lambda text: text is not None)},
        optional={
            "hours": st.integers(0, 10**9 - 1),
            "day": st.dates(),
            "more": st.lists(
                nasty.map(kept).filter(lambda text: text and ";" not in text),
                min_size=1,
                max_size=3,
                unique=True,
            ).map(tuple),
        },
    ),
    min_size=1,
    max_size=4,
)


@given(entered_rows)
def test_what_is_written_as_csv_reads_back_the_same(rows) -> None:
    assert read_back(write_csv(COLUMNS, rows)) == rows


@given(entered_rows)
def test_what_is_written_as_a_workbook_reads_back_the_same(rows) -> None:
    # A spreadsheet knows no date before 1900, and markup no control characters.
    rows = [{**r, "day": max(r.get("day", date.max), date(1900, 3, 1))} for r in rows]
    assert read_back(write_xlsx(COLUMNS, rows)) == rows


@given(st.integers(0, 10**9 - 1))
def test_hours_read_back_to_the_hundredth(hundredths) -> None:
    written = cells.written_hours(hundredths)
    assert isinstance(written, Decimal)
    assert cells.read_hours(str(written)) == hundredths
    assert cells.read_hours(str(written).replace(".", ",")) == hundredths
