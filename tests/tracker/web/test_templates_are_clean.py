"""The content policy allows no inline style and no script: no page may have one.

A mail may bring its style along: it is shown by programs that take it from nowhere else.
"""

import re
from pathlib import Path

import pytest

import tracker

ROOT = Path(tracker.__file__).parent
MAILS = ROOT / "watch" / "templates" / "watch" / "mail"
TEMPLATES = sorted(
    path for path in ROOT.rglob("templates/**/*.html") if MAILS not in path.parents
)
SHEETS = sorted(ROOT.rglob("static/**/*.css"))
REFUSED = re.compile(r"\sstyle\s*=|<style\b|<script\b|\son[a-z]+\s*=|javascript:", re.I)


def test_there_are_templates_and_a_sheet_to_look_at() -> None:
    assert "base.html" in {template.name for template in TEMPLATES}
    assert "style.css" in {sheet.name for sheet in SHEETS}


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.name)
def test_a_template_has_no_inline_style_and_no_script(template: Path) -> None:
    found = REFUSED.search(template.read_text(encoding="utf-8"))
    assert found is None, f"{template}: {found}"


@pytest.mark.parametrize(
    "markup",
    [
        '<p style="color: red">',
        "<p\nstyle = 'x'>",
        "<style>",
        '<SCRIPT src="x">',
        '<a onclick="x">',
        '<a href="javascript:x">',
    ],
)
def test_the_search_finds_what_is_refused(markup: str) -> None:
    assert REFUSED.search(markup)


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda path: path.name)
def test_a_sheet_loads_nothing_from_elsewhere(sheet: Path) -> None:
    text = sheet.read_text(encoding="utf-8")
    assert "@import" not in text
    assert "url(" not in text
    assert "@font-face" not in text


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda path: path.name)
def test_every_class_that_a_sheet_colours_in_print_is_black(sheet: Path) -> None:
    printed = sheet.read_text(encoding="utf-8").partition("@media print")[2]
    for token in ("--ink", "--accent", "--past"):
        assert f"{token}: #000;" in printed
