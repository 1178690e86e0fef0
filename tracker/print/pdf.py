"""Sheets as one PDF: archival (PDF/A-2b), tagged (PDF/UA-1), fonts embedded.

The same sheets, paper and moment give the same bytes, in any process.
"""

from __future__ import annotations

import json
import logging
from dataclasses import asdict
from datetime import UTC, datetime
from enum import Enum
from functools import cache
from pathlib import Path
from typing import Any, Final

import typst

from tracker.figures.sprite import SHAPES, shape_alone
from tracker.print.glyphs import FONTS
from tracker.print.printable import MARK, all_printable
from tracker.print.sheet import (
    CAUTION,
    COVER_HEADS,
    HEADS,
    SHORT_CAUTION,
    SIGN,
    Printed,
)

log = logging.getLogger(__name__)

TEMPLATES: Final = Path(__file__).parent / "templates"
STANDARDS: Final[list[typst.PDFStandard]] = ["a-2b", "ua-1"]


class Paper(Enum):
    """What a print is made for; the value is what an address asks with."""

    A4 = "A4"
    LETTER = "letter"


@cache
def _fonts() -> typst.Fonts:
    """Only our own fonts: a print must not depend on the machine that makes it."""
    return typst.Fonts(
        include_system_fonts=False,
        include_embedded_fonts=False,
        font_paths=[str(FONTS)],
    )


def pdf_of(printed: Printed, *, paper: Paper, made_at: datetime) -> bytes:
    """Return the document. `made_at` stands in it as the moment of its making."""
    inputs = {"data": json.dumps(_data(printed, paper), ensure_ascii=False)}
    moment = made_at.astimezone(UTC).replace(microsecond=0)
    compiler = typst.Compiler(root=str(TEMPLATES), font_paths=_fonts())
    try:
        return _compiled(compiler, inputs, moment, STANDARDS)
    except typst.TypstError as refused:
        # An archive may refuse it; an inspection must not wait for that.
        log.error("a print is not archival: %s", refused.message)
        return _compiled(compiler, inputs, moment, [])


def _compiled(
    compiler: typst.Compiler,
    inputs: dict[str, str],
    moment: datetime,
    standards: list[typst.PDFStandard],
) -> bytes:
    made, warnings = compiler.compile_with_warnings(
        str(TEMPLATES / "status.typ"),
        format="pdf",
        sys_inputs=inputs,
        pdf_standards=standards,
        timestamp=moment,
    )
    for warning in warnings:
        log.warning("a print was made with a fault: %s", warning.message)
    assert isinstance(made, bytes), "a PDF is one file"
    return made


def _data(printed: Printed, paper: Paper) -> dict[str, Any]:
    """Return all that the template sets; what is the users' own is made printable."""
    words = all_printable(asdict(printed))
    return {
        **words,
        "paper": {Paper.A4: "a4", Paper.LETTER: "us-letter"}[paper],
        "shapes": {word: shape_alone(word) for word in SHAPES},
        "heads": HEADS,
        "cover_heads": COVER_HEADS,
        "sign": SIGN,
        "caution": CAUTION,
        "short_caution": SHORT_CAUTION,
        "mark_note": _mark_note(words),
    }


def _mark_note(words: dict[str, Any]) -> str:
    if MARK not in json.dumps(words, ensure_ascii=False):
        return ""
    return (
        f"{MARK} stands for a character that cannot be printed here; the page shows it."
    )
