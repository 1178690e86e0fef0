"""Change letters of a drawing or part, in drawing order.

A to Y without I, O, Q, S, X and Z, then AA, AB, ...; no letter at all comes before A.
Source: the letters left out are those of ASME Y14.35, from memory; common practice.
"""

from __future__ import annotations

LETTERS = "ABCDEFGHJKLMNPRTUVWY"

LONGEST = 8


def letter_rank(text: str) -> int | None:
    """Return the place in drawing order: 0 for none, 1 for A, 20 for Y, 21 for AA.

    None for what is not a change letter: figures, a letter left out, a mixture.
    """
    rank = 0
    change = text.strip().upper()
    if len(change) > LONGEST:
        return None
    for letter in change:
        place = LETTERS.find(letter)
        if place < 0:
            return None
        rank = rank * len(LETTERS) + place + 1
    return rank


def letters_at(rank: int) -> str:
    """Return the change letters at a place in drawing order, "" at 0."""
    change = ""
    while rank > 0:
        rank, place = divmod(rank - 1, len(LETTERS))
        change = LETTERS[place] + change
    return change


def figure_rank(text: str) -> int | None:
    """Return a change given in figures as a number from 1; no change at all is 0."""
    change = text.strip()
    if not change:
        return 0
    if len(change) <= LONGEST and change.isascii() and change.isdigit():
        return int(change) + 1
    return None
