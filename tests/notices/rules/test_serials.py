"""Serial numbers: shapes, ranges, and what they cover."""

from __future__ import annotations

import portion
import pytest
from hypothesis import given
from hypothesis import strategies as st

from notices.rules.serials import (
    Match,
    fits_pattern,
    match,
    number_of,
    order_key,
    parse_range,
    parse_serial,
    turning_points,
)

SHAPES = [
    # Blanks, hyphens and dashes are one separator, dropped beside a letter.
    ("K-612-62B", ("K", 612, "-", 62, "B")),
    ("K 612 62B", ("K", 612, "-", 62, "B")),
    ("K612-62B", ("K", 612, "-", 62, "B")),
    ("k – 612 - 62 b ", ("K", 612, "-", 62, "B")),
    ("1815-11", (1815, "-", 11)),
    ("16107D-R", (16107, "DR")),
    # Digits in groups of three are one number.
    ("7,203,518", (7203518,)),
    ("7 203 518", (7203518,)),
    ("7 20 518", (7, "-", 20, "-", 518)),
    ("7203,518", (7203, ",", 518)),
    # A point is a character like any other; leading zeros do not count.
    ("4.5", (4, ".", 5)),
    ("L-0042", ("L", 42)),
    # Longer than a machine word.
    ("9" * 40, (int("9" * 40),)),
]


@pytest.mark.parametrize(("text", "runs"), SHAPES)
def test_a_serial_is_compared_by_its_shape(text: str, runs: tuple[object, ...]) -> None:
    serial = parse_serial(text)
    assert serial.runs == runs
    assert serial.stamped == text


COVERED = """
4001..4987          | 4001      | in
4001..4987          | 04987     | in
4001..4987          | 4,500     | in
4001..4987          | 4000      | out
4001..4987          | 4988      | out
4001..4987          | 450       | out
5002                | 5002      | in
5002                | 5003      | out
5100..              | 99999     | in
5100..              | 5099      | out
..K-6182-62         | K-1-62    | in
..K-6182-62         | K-6183-62 | out
..K-6182-62         | K-1-63    | out
..1815-11           | 301-11    | in
..1815-11           | 1816-11   | out
L-12500-15..L-20676-15 | L-12500-15  | in
L-12500-15..L-20676-15 | L-20677-15  | out
L-12500-15..L-20676-15 | L-15000-16  | out
L-12500-15..L-20676-15 | RL-15000-15 | out
L-12500-15..L-20676-15 | L-15000     | undetermined
L-12500-15..L-20676-15 | 15000-15    | undetermined
L-12500-15..L-20676-15 | 15000       | undetermined
L-12500-15..L-20676-15 | 21000       | out
K-500..K-900        | K-612-62B | undetermined
K-500..K-900        | K-950-62B | out
K-500..K-900        | M-612     | out
K-500..K-900        | 612       | undetermined
K-1-500..K-1-900    | K-1-612   | in
K-1-500..K-1-900    | K-2-612   | out
281319-R..281323-R  | 281321-R  | in
281319-R..281323-R  | 281321-H  | out
25622D-R            | 25622-R   | out
25622D-R            | 25622 D R | in
ABC                 | abc       | in
ABC                 | ABC-5     | undetermined
ABC                 | ABD       | out
"""


def rows(table: str) -> list[list[str]]:
    return [
        [cell.strip() for cell in line.split("|")]
        for line in table.strip().splitlines()
    ]


@pytest.mark.parametrize(("span", "serial", "expected"), rows(COVERED))
def test_a_range_covers_what_it_says(span: str, serial: str, expected: str) -> None:
    assert match(parse_serial(serial), parse_range(span)) is Match(expected)


SUFFIXES = """
K-500..K-900 | any  | K-612-62B | in
K-500..K-900 | same | K-612-62B | out
K-500..K-900 | any  | K-950-62B | out
4001..4987   | any  | 4500A     | in
4001..4987   | same | 4500A     | out
4001..4987   | same | 4500      | in
4001..4987   | any  | K-4500    | undetermined
"""


@pytest.mark.parametrize(("span", "suffix", "serial", "expected"), rows(SUFFIXES))
def test_a_suffix_rule_settles_a_further_run(
    span: str, suffix: str, serial: str, expected: str
) -> None:
    found = match(parse_serial(serial), parse_range(span, suffix=suffix))  # type: ignore[arg-type]  # words of the table
    assert found is Match(expected)


def test_the_number_run_can_be_named_by_the_rule_or_by_the_type() -> None:
    serial = parse_serial("K-7-612")
    assert match(serial, parse_range("K-7-500..", run=2)) is Match.IN
    assert match(serial, parse_range("K-7-700..", run=2)) is Match.OUT
    assert match(serial, parse_range("K-7-500.."), type_run=2) is Match.IN
    assert match(serial, parse_range("K-7-700.."), type_run=2) is Match.OUT
    assert match(serial, parse_range("K-7-700..")) is Match.OUT
    assert match(parse_serial("K-8-700"), parse_range("K-7-700..")) is Match.IN
    # What the rule names wins over the type.
    assert match(serial, parse_range("K-6-612..", run=1), type_run=2) is Match.IN


def test_a_serial_that_does_not_fit_its_type_is_undetermined() -> None:
    """It may have been mistyped: the number in it tells nothing."""
    span = parse_range("13000-15..13999-15")
    assert match(parse_serial("13500-15"), span, pattern="L-#-#") is Match.UNDETERMINED
    assert match(parse_serial("14500-15"), span, pattern="L-#-#") is Match.UNDETERMINED
    for mistyped in ("5OO2", "abc", "K-650", "\N{NUT AND BOLT}"):
        one = parse_serial(mistyped)
        for text in ("4001..4987", "5002", "5500..", "abd"):
            found = match(one, parse_range(text), pattern="#")
            assert found is Match.UNDETERMINED, (mistyped, text)
    assert match(parse_serial("5003"), parse_range("5002"), pattern="#") is Match.OUT
    assert match(parse_serial("13500-15"), span, pattern="#-#") is Match.IN
    assert match(parse_serial("13500-15"), span, pattern="#-15") is Match.IN
    assert fits_pattern(parse_serial("L 7 - 15"), "L-#-15")
    assert not fits_pattern(parse_serial("L-7-16"), "L-#-15")


REFUSED = [
    ("4001 to 4987", 'looks like a range. Write "4001..4987" with two points'),
    ("K-500 through K-900", 'Write "K-500..K-900" with two points'),
    ("4001-4987", 'Write "4001..4987" for all serials between'),
    ("4001 – 4987", 'or "4001 – 4987..4001 – 4987" for one serial with a hyphen'),
    ("L-500..M-900", 'differ in their letters: "L" and "M"'),
    ("1-2..3-4", "differ in more than one number: 1/3 and 2/4"),
    ("K-5..K-5-6", "do not have one shape"),
    ("9..1", "runs backwards: 9 is above 1"),
    ("1..2..3", 'more than one ".."'),
    ("1...3", 'more than one ".."'),
    ("..", "names neither end"),
    ("..ABC", "no number to count from"),
    ("", "holds no serial number"),
    ("-", "holds no serial number"),
    ("1" * 101, "at most 100 characters"),
]


@pytest.mark.parametrize(("text", "message"), REFUSED)
def test_a_range_that_cannot_be_is_refused_with_the_reason(
    text: str, message: str
) -> None:
    with pytest.raises(ValueError) as refused:
        parse_range(text)
    assert message in str(refused.value)


def test_a_run_that_is_not_there_is_refused() -> None:
    with pytest.raises(ValueError, match="run 3 cannot be its number"):
        parse_range("K-1-2..", run=3)
    with pytest.raises(ValueError, match="which is not run 1 of the digits"):
        parse_range("K-1-2..K-1-5", run=1)


def test_a_match_is_not_a_boolean() -> None:
    with pytest.raises(TypeError):
        bool(Match.IN)


NUMBERS = st.integers(0, 300)


@given(st.lists(st.tuples(NUMBERS, NUMBERS), min_size=1, max_size=4), NUMBERS)
def test_ranges_cover_what_interval_arithmetic_says(
    ends: list[tuple[int, int]], number: int
) -> None:
    spans = [(min(pair), max(pair)) for pair in ends]
    union = portion.empty()
    for low, high in spans:
        union |= portion.closed(low, high)
    serial = parse_serial(f"K-{number}-62")
    covered = any(
        match(serial, parse_range(f"K-{low}-62..K-{high}-62")) is Match.IN
        for low, high in spans
    )
    assert covered == (number in union)


SAME_SHAPE = st.lists(
    st.tuples(st.sampled_from(["K", "L"]), NUMBERS, NUMBERS), min_size=3, max_size=3
)


@given(SAME_SHAPE)
def test_serials_of_one_shape_stand_in_one_order(
    rows: list[tuple[str, int, int]],
) -> None:
    first, second, third = (
        order_key(parse_serial(f"{a}-{b:05}-{c}")) for a, b, c in rows
    )
    assert (first < second) + (second < first) + (first == second) == 1
    if first <= second <= third:
        assert first <= third
    assert (first == second) == (rows[0] == rows[1])
    assert (first < second) == (rows[0] < rows[1])


@given(st.text(alphabet="AK019 -–,./", min_size=1, max_size=12))
def test_a_serial_is_in_the_range_of_itself(text: str) -> None:
    try:
        serial = parse_serial(text)
    except ValueError:
        return
    if ".." not in text:
        assert match(serial, parse_range(text)) is Match.IN


SHAPED = st.tuples(
    st.sampled_from(["", "K-", "K"]),
    st.integers(0, 9),
    st.sampled_from(["", "-", "B", "-4", "-5B"]),
)
PATTERNS = st.sampled_from([None, "#", "K-#", "K-#-4", "7", "#-#"])


@given(SHAPED, SHAPED, st.sampled_from(["{}..", "..{}", "{}"]), PATTERNS, st.data())
def test_between_two_turning_points_every_number_is_answered_alike(
    own: tuple[str, int, str],
    end: tuple[str, int, str],
    form: str,
    pattern: str | None,
    data: st.DataObject,
) -> None:
    span = parse_range(form.format("{}{}{}".format(*end)))
    before, number, after = own
    turns = [0, *turning_points([span], pattern)]
    same = max(turn for turn in turns if turn <= number)
    run = data.draw(st.sampled_from([None, 1, 2]))
    answers = {
        match(
            parse_serial(f"{before}{one}{after}"), span, type_run=run, pattern=pattern
        )
        for one in (number, same)
    }
    assert len(answers) == 1


def test_the_number_of_a_serial_is_the_run_that_its_type_names() -> None:
    serial = parse_serial("K-7-612")
    assert [number_of(serial, run) for run in (None, 1, 2, 3)] == [1, 1, 3, 1]
    assert number_of(parse_serial("AB"), 1) == -1
