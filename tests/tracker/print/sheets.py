"""Sheets made by hand, of any size and with any words, and a print's text as it is read."""

from __future__ import annotations

import io
import re
import subprocess
import unicodedata
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from pypdf import PdfReader

from tracker.print.pdf import Paper, pdf_of
from tracker.print.sheet import Group, Item, Mark, Printed, Section, Sheet, Table

MADE_AT = datetime(2026, 11, 24, 14, 20, 7, tzinfo=UTC)
NASTY = (
    '#eval(read("/etc/passwd"))',
    "#set page(fill: red) *bold* _it_ $x^2$ `raw` <label> @ref \\u{41} // gone /* too */",
    "👩\u200d🔧 fitted 漢字 part 🛩\ufe0f",
    "\u202egnp.exe\u202c reversed\u0000\u0007\u001b[31m",
    "בדיקה של המשאבה and العربية in one line",
    "Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaft"
    * 2,
    "x" * 400,
    "first\r\nsecond\tthird\u2028fourth",
    "n\u0303e\u0301 half-composed \u0301alone",
    "<b>not bold</b> &amp; {{ 7|add:7 }} {% now 'Y' %} ${jndi}",
    "\ufffe\ud7ff\ue000 places without a character",
    "  ",
)


def item(number: str, **given: Any) -> Item:
    """An item with a word in each field that tells it from every other."""
    words = {
        "revision": f"rev. R{number}, 10 Jan 2026",
        "received": "12 Jan 2026",
        "subject": f"Inspect the drive of {number}",
        "part": f"Fuel pump, P-8801, serial {number}-P",
        "missing": "",
        "asks": "Within 50 h after the effective date",
        "grounds": "",
        "method": f"Inspected by {number}",
        "done_on": "20 Nov 2026",
        "since": "",
        "airframe": "4\u202f000.0\u00a0h",
        "component": "510.0\u00a0h",
        "part_hours": "",
        "recurring": "recurring",
        "next_hours": "610.0\u00a0h",
        "next_other": "or 30 Nov 2027",
        "next_note": "",
        "signatory": f"Runa Tveit, inspection authorization, ZZ-{number}",
        "remarks": "",
        "record": number.rsplit("-", 1)[-1],
    }
    mark = Mark("outstanding", "outstanding")
    return Item(**{"mark": mark, "number": number, **words, **given})


def sheet(*items: Item, **given: Any) -> Sheet:
    """A sheet with these items under what applies, and nothing else in it."""
    applies = Section(
        key="applies",
        heading="What applies",
        groups=(Group("Airworthiness directives", items),) if items else (),
        empty="Nothing applies.",
    )
    made = Sheet(
        title="Compliance status of MX-4T, serial 4731",
        subject="MX-4T, serial 4731",
        station="Tarnfield Engine Shop",
        as_of="As of 24 November 2026, with all that is known on 24 November 2026.",
        warning="",
        running=("MX-4T, serial 4731", "as of 24 Nov 2026", "TSN 2\u202f711.6\u00a0h"),
        head="7c1e90ab44d209f3",
        facts=(),
        counts=(Mark("outstanding", f"{len(items)} outstanding"),),
        sections=(applies,),
        made="Computed on 24 November 2026 at 14:20 (Europe/London)",
        chain_note="From 1 record. Head of the chain:",
        chain="7c1e90ab44d209f3" * 4,
    )
    return replace(made, **given)


def with_table(words: tuple[str, ...]) -> Sheet:
    """A sheet whose history has a row for each of these, in every column."""
    table = Table(
        columns=tuple(f"Column {place}" for place in range(9)),
        rows=tuple((text,) * 9 for text in words),
    )
    history = Section(key="history", heading="History", table=table)
    return sheet(sections=(history,))


def printed(*sheets: Sheet, **given: Any) -> Printed:
    title, station = sheets[0].title, sheets[0].station
    return replace(Printed(title=title, station=station, sheets=sheets), **given)


def pdf(*sheets: Sheet, paper: Paper = Paper.A4, **given: Any) -> bytes:
    return pdf_of(printed(*sheets, **given), paper=paper, made_at=MADE_AT)


def bare(text: str) -> str:
    """The text without blanks and with ligatures taken apart, as a search sees it."""
    plain = unicodedata.normalize("NFKC", text)
    return re.sub(r"[\s\u200b\u202a-\u202e\u2066-\u2069]+", "", plain)


def text_by_pypdf(content: bytes) -> str:
    pages = PdfReader(io.BytesIO(content)).pages
    return bare("\n".join(page.extract_text() for page in pages))


def text_by_poppler(content: bytes) -> str:
    ran = subprocess.run(  # a tool of the system
        ["pdftotext", "-raw", "-enc", "UTF-8", "-", "-"],  # noqa: S607
        input=content,
        capture_output=True,
        check=True,
    )
    return bare(ran.stdout.decode("utf-8"))


def words_of_item(one: Item) -> Iterator[str]:
    """Every word of an item as it is printed, in the order of its columns."""
    yield one.mark.said
    yield one.number
    yield one.revision
    yield f"received {one.received}"
    for field in (
        *("subject", "part", "missing", "asks", "grounds", "method", "done_on"),
        "since",
        *("airframe", "component", "part_hours", "next_hours", "next_other"),
        *("recurring", "next_note", "signatory", "remarks"),
    ):
        if words := getattr(one, field):
            yield words
