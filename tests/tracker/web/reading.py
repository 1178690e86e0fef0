"""Reads an answered page as a person does: its words, and its rows."""

from __future__ import annotations

import html
import re

from django.http import HttpResponse

_TAG = re.compile(r"<[^>]+>")
_UNBROKEN = re.compile(r"</?bdi\b[^>]*>")
_ROW = re.compile(r"<tr[ >].*?</tr>", re.S)
_HIDDEN = re.compile(r"<(svg|title|head)\b.*?</\1>", re.S)


def words(text: str) -> str:
    """The text without tags, with single ordinary blanks also for the narrow ones."""
    seen = _UNBROKEN.sub("", _HIDDEN.sub(" ", text))
    bare = html.unescape(_TAG.sub(" ", seen))
    return " ".join(bare.split()).replace(" .", ".").replace(" ,", ",")


def words_of(response: HttpResponse) -> str:
    assert response.status_code == 200, response.status_code
    return words(response.content.decode())


def rows_of(response: HttpResponse) -> list[str]:
    """The rows of all tables, in order, heads included."""
    return [words(row) for row in _ROW.findall(response.content.decode())]
