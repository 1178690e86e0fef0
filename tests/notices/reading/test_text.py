"""Text from a document, made fit for storing and comparing."""

import pytest

from notices.reading.text import normal_text


@pytest.mark.parametrize(
    ("raw", "normal"),
    [
        # Dashes of every kind are hyphens, as serials and numbers are written.
        ("SB\u201124\u2013011 \u2014 rev\u2212A", "SB-24-011 - rev-A"),
        # Blanks: hard, thin, tabs, several; lines are kept.
        ("4001\u00a0to\u2009 4987\t only", "4001 to 4987 only"),
        ("one \r\n two\n\n three ", "one\ntwo\n\nthree"),
        # A word cut by a soft hyphen is whole again; elsewhere it only goes.
        ("inspec\u00ad\n tion of the mag\u00adneto", "inspection of the magneto"),
        # What no database keeps, or nobody sees.
        ("a\x00b\ud800c\u202ed\u200be\ufeff", "abcde"),
        # A letter and its accent are one character.
        ("cafe\u0301", "caf\u00e9"),
        ("", ""),
    ],
)
def test_text_is_normalised(raw: str, normal: str) -> None:
    assert normal_text(raw) == normal
    assert normal_text(normal) == normal
