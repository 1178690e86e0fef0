"""What is read of ordinary PDFs, and what becomes of hostile ones."""

from __future__ import annotations

import random
import time

import pytest

from notices.reading.pages import PAGES_READ, Outcome, read_pages
from tests.notices.reading.drawn_pdfs import (
    counting_wrong,
    drawn,
    encrypted,
    inflating,
    inflating_inside,
    looping,
    nested,
    scanned,
    with_script,
)


def test_each_page_gives_its_text() -> None:
    pages = read_pages(
        drawn([["Page one."], ["Fuel pump P-8801.", "Within 50 hours."]])
    )
    assert pages.outcome is Outcome.READ
    assert pages.count == 2
    assert pages.texts == ("Page one.", "Fuel pump P-8801.\nWithin 50 hours.")
    assert pages.notes == ()


def test_an_empty_page_among_others_is_kept_as_empty() -> None:
    pages = read_pages(drawn([["One."], [], ["Three."]]))
    assert pages.texts == ("One.", "", "Three.")


def test_a_scan_says_that_it_has_no_text() -> None:
    pages = read_pages(scanned())
    assert pages.outcome is Outcome.NO_TEXT
    assert pages.count == 1
    assert pages.texts == ()


def test_a_password_of_its_user_leaves_a_file_unread() -> None:
    pages = read_pages(encrypted(user="secret", owner="other"))
    assert pages.outcome is Outcome.ENCRYPTED
    assert pages.texts == ()


@pytest.mark.parametrize("algorithm", ["AES-256", "RC4-128"])
def test_a_password_of_its_owner_only_is_read_and_noted(algorithm: str) -> None:
    pages = read_pages(encrypted(user="", owner="other", algorithm=algorithm))
    assert pages.outcome is Outcome.READ
    assert "4001 to 4987" in pages.texts[0]
    assert pages.notes == (
        "The file is protected against changes by a password of its owner.",
    )


def test_script_and_carried_files_are_noted() -> None:
    pages = read_pages(with_script())
    assert pages.outcome is Outcome.READ
    assert "The file carries script." in pages.notes
    assert "The file carries other files." in pages.notes


def test_pages_past_the_limit_are_not_read_and_the_file_says_so() -> None:
    pages = read_pages(drawn([["Text."]] * (PAGES_READ + 3)))
    assert pages.count == PAGES_READ + 3
    assert len(pages.texts) == PAGES_READ
    assert pages.notes == ("Only the first 500 of 503 pages were read.",)


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(b"", id="empty"),
        pytest.param(b"just some text", id="not a PDF"),
        pytest.param(b"%PDF-1.7\n%%EOF\n", id="header and end only"),
        pytest.param(nested(50_000), id="nested arrays"),
        pytest.param(looping(), id="page tree that contains itself"),
    ],
)
def test_a_broken_file_is_never_read(content: bytes) -> None:
    assert read_pages(content).outcome in {Outcome.DAMAGED, Outcome.LIMIT}


@pytest.mark.parametrize("share", [0.5, 0.95])
def test_a_cut_file_is_damaged(share: float) -> None:
    content = drawn([["Some text to cut."]] * 5)
    assert read_pages(content[: int(len(content) * share)]).outcome is Outcome.DAMAGED


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(inflating(50), id="50 MB from some bytes"),
        pytest.param(inflating(300), id="300 MB from some bytes"),
        pytest.param(counting_wrong(), id="a hundred million pages"),
    ],
)
def test_a_bomb_meets_a_limit_within_seconds(content: bytes) -> None:
    started = time.monotonic()
    assert read_pages(content).outcome is Outcome.LIMIT
    assert time.monotonic() - started < 10


def test_text_that_is_left_out_is_never_passed_over_in_silence() -> None:
    pages = read_pages(inflating_inside(b"Within 50 hours", 300))
    assert pages.outcome is Outcome.READ
    assert pages.texts == ("Within 50 hours",)
    assert pages.notes == ("Some of its text could not be read.",)
    assert read_pages(inflating_inside(b"", 300)).outcome is Outcome.LIMIT


def test_a_file_changed_at_random_never_raises() -> None:
    chance = random.Random(20261124)  # noqa: S311  # the same files in every run
    original = drawn([["Some text."]] * 2)
    for _ in range(300):
        content = bytearray(original)
        for _ in range(chance.randint(1, 30)):
            content[chance.randrange(len(content))] = chance.randrange(256)
        assert read_pages(bytes(content)).outcome in Outcome
