"""Rows of oils: how they are read, and what each is for one engine."""

from __future__ import annotations

from fractions import Fraction
from itertools import permutations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from notices.questions import answer
from notices.rules.errors import RuleError
from notices.rules.facts import UNKNOWN, Asked, EngineFacts, TemperatureRange, Unknown
from notices.rules.fluids import (
    Verdict,
    advise,
    fuels_of,
    parse_rows,
    rows_to_json,
)
from notices.rules.fluids_json import fluids_from_json


def row(name: str, grade: str = "15W-50", **more: Any) -> dict[str, Any]:
    return {
        "id": name,
        "grade": grade,
        "class": "semi-synthetic",
        "ambient": {"from": -20, "to": 40},
        "fuel": ["unleaded", "leaded"],
    } | more


# common practice, no source: a multigrade 10W-40 serves from well below freezing to hot,
# a 20W-50 from about freezing up to very hot; full synthetic is preferred with unleaded
# fuel, semi-synthetic with leaded, unleaded or any mix. The degrees are check values.
TABLE = [
    row("10W-40 full", "10W-40", ambient={"from": -25, "to": 35}, fuel=["unleaded"])
    | {"class": "synthetic", "note": "Preferred with unleaded fuel"},
    row("10W-40 semi", "10W-40", ambient={"from": -25, "to": 35}),
    row("20W-50 semi", "20W-50", ambient={"from": 0, "to": 49}),
]


def asked(
    rows: list[Any], low: Any, high: Any, leaded: Any = 0, **more: Any
) -> dict[str, tuple[str, str]]:
    question = {
        "rows": rows,
        "engine": {"leaded_share": leaded, **more},
        "ambient": {"from": low, "to": high},
    }
    found = answer({"id": 4, "fluids": question})
    assert found["id"] == 4
    return {one["id"]: (one["verdict"], one["why"]) for one in found["rows"]}


def test_the_trade_picks_by_climate_and_fuel() -> None:
    """common practice, no source: see the table above."""
    assert asked(TABLE, -15, 30, leaded=0) == {
        "10W-40 full": ("suited, see note", "Preferred with unleaded fuel."),
        "10W-40 semi": (
            "suited",
            "Covers the season from −15 °C to 30 °C and the fuel in use.",
        ),
        "20W-50 semi": (
            "not suited",
            "Too thick for a start at −15 °C: the table gives it from 0 °C.",
        ),
    }
    assert {name: verdict for name, (verdict, _) in asked(TABLE, 5, 45, 1).items()} == {
        "20W-50 semi": "suited",
        "10W-40 full": "not suited",
        "10W-40 semi": "not suited",
    }
    mixed = asked(TABLE, 5, 30, leaded=0.4)
    assert [name for name, (verdict, _) in mixed.items() if verdict == "suited"] == [
        "10W-40 semi",
        "20W-50 semi",
    ]
    assert mixed["10W-40 full"] == ("not suited", "Not for leaded fuel.")


WHY = [
    # Both ends of the range belong to it, exactly, in either unit.
    ({}, (-20, 40), "suited"),
    (
        {},
        (-20.5, 40),
        "Too thick for a start at −20.5 °C: the table gives it from −20 °C.",
    ),
    ({}, (-20, 40.1), "Too thin at 40.1 °C: the table gives it up to 40 °C."),
    ({"ambient": {"from": -4, "to": 104, "unit": "F"}}, (-20, 40), "suited"),
    (
        {"ambient": {"from": -4, "to": 104, "unit": "F"}},
        (-21, 40),
        "Too thick for a start at −21 °C: the table gives it from −20 °C.",
    ),
    # An end that the maker leaves open sets no bound.
    ({"ambient": {"to": 40}}, (-20, 40), "suited"),
    ({"ambient": {"from": -20}}, (-20, 60), "suited"),
    # One reason, the first: the cold end, the hot end, the fuel, the engine.
    ({"fuel": ["leaded"]}, (-30, 60), "Too thick"),
    ({"fuel": ["leaded"]}, (-10, 60), "Too thin"),
    ({"fuel": ["leaded"]}, (-10, 10), "Not for unleaded fuel."),
    (
        {"when": {"type": ["MX-6"]}},
        (-10, 10),
        "Type designation MX-4 is not MX-6.",
    ),
    ({"when": {"type": ["MX-4"]}}, (-10, 10), "suited"),
    # What J300 does not say, only where the table goes further than it.
    (
        {"grade": "15W-50", "ambient": {"from": -30}},
        (-22, 10),
        "SAE J300 tests cold cranking of 15W at −20 °C, and the season goes down to "
        "−22 °C.",
    ),
    (
        {"grade": "50", "ambient": {"from": -30}},
        (-11, 10),
        "SAE J300 tests no cold cranking of grade 50, and the season goes down to "
        "−11 °C.",
    ),
    ({"grade": "50", "ambient": {"from": -30}}, (-10, 10), "suited"),
    (
        {"grade": "100", "note": "Ashless. "},
        (0, 10),
        "Ashless. SAE J300 knows no grade 100, so its place in the order is open.",
    ),
]


@pytest.mark.parametrize(("more", "season", "said"), WHY)
def test_each_row_says_why(
    more: dict[str, Any], season: tuple[Any, Any], said: str
) -> None:
    ((verdict, why),) = asked([row("a", **more)], *season, type="MX-4").values()
    if said == "suited":
        assert (verdict, why[:17]) == ("suited", "Covers the season")
    else:
        assert why.startswith(said)
        assert verdict == ("suited, see note" if "J300" in said else "not suited")


def test_what_is_not_known_is_named_and_only_where_it_decides() -> None:
    rows = parse_rows([row("any"), row("one", fuel=["unleaded"])])
    season = TemperatureRange(low=Fraction(0), high=Fraction(30))
    advice = advise(rows, EngineFacts(), Asked(), ambient=season, fuel=UNKNOWN)
    assert [(one.row.id, one.verdict, one.missing) for one in advice] == [
        ("any", Verdict.SUITED, ()),
        ("one", Verdict.UNDETERMINED, ("kind of fuel in use",)),
    ]
    nothing = advise(rows, EngineFacts(), Asked(), ambient=UNKNOWN, fuel=UNKNOWN)
    assert [one.why for one in nothing] == [
        "Not known: ambient temperatures of the coming season.",
        "Not known: ambient temperatures of the coming season, kind of fuel in use.",
    ]
    leaded = frozenset({"leaded"})
    fallen = advise(rows, EngineFacts(), Asked(), ambient=UNKNOWN, fuel=leaded)
    assert [one.suited for one in fallen] == [None, False], (
        "a reason against it is enough"
    )
    typed = parse_rows([row("typed", when={"type": ["MX-4"]})])
    (one,) = advise(typed, EngineFacts(), Asked(), ambient=season, fuel=leaded)
    assert (one.verdict, one.missing) == (Verdict.UNDETERMINED, ("type designation",))


def test_what_suits_stands_first_then_the_colder_grade_then_as_given() -> None:
    names = ["20W-50", "100", "10W-40", "0W-30 thin", "80", "30", "10W-30"]
    rows = [
        row(name, name.split()[0], ambient={"from": -30 if "0W" in name else 0})
        for name in names
    ]
    rows[3]["ambient"] = {"to": 10}
    ordered = list(asked(rows, 5, 30))
    assert ordered == ["10W-30", "10W-40", "20W-50", "30", "100", "80", "0W-30 thin"]
    for some in permutations(rows[:4]):
        assert list(asked(list(some), 5, 30))[:2] == ["10W-40", "20W-50"]


@pytest.mark.parametrize(
    ("share", "fuels"),
    [
        (Fraction(0), {"unleaded"}),
        (Fraction(1), {"leaded"}),
        (Fraction(1, 10**9), {"leaded", "unleaded"}),
    ],
)
def test_the_share_says_which_fuels_are_in_use(
    share: Fraction, fuels: set[str]
) -> None:
    assert fuels_of(share) == fuels
    assert fuels_of(UNKNOWN) is UNKNOWN


ROWS = st.lists(
    st.builds(
        row,
        st.just("x"),
        st.sampled_from(["10W-40", "20W-50", "100", "50"]),
        ambient=st.tuples(st.integers(-30, 0), st.integers(0, 40)).map(
            lambda ends: {"from": ends[0], "to": ends[1]}
        ),
        fuel=st.sampled_from([["leaded"], ["unleaded"], ["leaded", "unleaded"]]),
    ),
    min_size=1,
    max_size=4,
).map(lambda rows: [{**one, "id": str(n)} for n, one in enumerate(rows)])
SEASONS = st.tuples(st.integers(-35, 0), st.integers(0, 45))
LEADED = st.sampled_from([Fraction(0), Fraction(1, 2), Fraction(1)])


@given(ROWS, SEASONS, LEADED)
def test_a_row_suits_exactly_if_every_degree_and_every_fuel_is_allowed(
    raw: list[Any], season: tuple[int, int], share: Fraction
) -> None:
    rows = parse_rows(raw)
    assert rows_to_json(rows) == raw
    ambient = TemperatureRange(low=Fraction(season[0]), high=Fraction(season[1]))
    advice = advise(rows, EngineFacts(), Asked(), ambient=ambient, fuel=fuels_of(share))
    assert sorted(one.row.id for one in advice) == [one["id"] for one in raw]
    for one in advice:
        given_row = raw[int(one.row.id)]
        degrees = range(season[0], season[1] + 1)
        allowed = range(given_row["ambient"]["from"], given_row["ambient"]["to"] + 1)
        in_use = {"leaded"} if share else set()
        in_use |= {"unleaded"} if share < 1 else set()
        assert one.suited is (
            set(degrees) <= set(allowed) and in_use <= set(given_row["fuel"])
        )


@given(ROWS, SEASONS, LEADED)
def test_learning_a_fact_never_turns_a_settled_verdict(
    raw: list[Any], season: tuple[int, int], share: Fraction
) -> None:
    rows = parse_rows(raw)
    known = TemperatureRange(low=Fraction(season[0]), high=Fraction(season[1]))

    def suited(
        ambient: TemperatureRange | Unknown, fuel: frozenset[str] | Unknown
    ) -> dict[str, bool | None]:
        advice = advise(rows, EngineFacts(), Asked(), ambient=ambient, fuel=fuel)
        return {one.row.id: one.suited for one in advice}

    told = suited(known, fuels_of(share))
    for less in (suited(UNKNOWN, fuels_of(share)), suited(known, UNKNOWN)):
        assert all(less[one] in (None, told[one]) for one in told)


REFUSED = [
    ([], "", "the list is empty"),
    ({}, "", "Expected a list of rows, not an object."),
    ([row("a", grade="17W-50")], "[0].grade", "SAE J300 knows no grade 17W."),
    ([row("a", grade="SAE 100")], "[0].grade", "SAE J300 knows no grade 100."),
    ([row("a", fuel=[])], "[0].fuel", "at least one of fuels"),
    ([row("a", fuel=["diesel"])], "[0].fuel[0]", '"unleaded" or "leaded"'),
    ([row("a", fuel=["leaded"] * 2)], "[0]", "A fuel is named twice."),
    ([row("a") | {"class": "thick"}], "[0].class", '"mineral" or "semi-synthetic"'),
    ([row("a", ambient={})], "[0].ambient", 'the lowest temperature "from"'),
    (
        [row("a", ambient={"from": 40, "to": -20})],
        "[0].ambient",
        'The lowest temperature "from" is above the highest "to".',
    ),
    ([row("a", ambient={"from": -300})], "[0].ambient", "colder than anything can be"),
    (
        [row("a", ambient={"from": 0, "unit": "K"})],
        "[0].ambient.unit",
        '"C" or "F", not "K"',
    ),
    ([row("a", when={"colour": 1})], "[0].when.colour", "not a test of an engine"),
    ([row("a"), row("b"), row("a")], "[2].id", 'There is a row "a" already.'),
    ([row(str(n)) for n in range(201)], "", "at most 200 rows"),
]


@pytest.mark.parametrize(("raw", "place", "said"), REFUSED)
def test_a_bad_table_is_refused_with_reason_and_place(
    raw: Any, place: str, said: str
) -> None:
    with pytest.raises(RuleError) as refused:
        parse_rows(raw, path="rows")
    (fault,) = refused.value.faults
    assert fault.path == f"rows{place}"
    assert said in fault.message


@pytest.mark.parametrize(
    "grade", ["15W-50", "15w50", "SAE 50", "sae 20W", "100", "Aviation 100", "30"]
)
def test_a_grade_is_kept_as_it_is_written(grade: str) -> None:
    (read,) = parse_rows([row("a", grade=grade)])
    assert read.grade == grade
    assert (read.viscosity is None) is ("100" in grade)


@pytest.mark.parametrize(
    ("ambient", "said"),
    [
        ({"from": -10, "to": 20}, "Too thick for a start at −10 °C: the table gives"),
        ({"from": 14, "to": 68, "unit": "F"}, "Too thick for a start at 14 °F: the"),
    ],
)
def test_the_answer_speaks_of_degrees_in_the_unit_of_the_question(
    ambient: dict[str, Any], said: str
) -> None:
    rows = [row("F", ambient={"from": 32, "unit": "F"}), row("C", ambient={"from": 0})]
    question = {"rows": rows, "engine": {"leaded_share": 1}, "ambient": ambient}
    for one in fluids_from_json(question)["rows"]:
        assert one["why"].startswith(said)


def test_a_question_names_every_fault_and_what_is_missing() -> None:
    with pytest.raises(RuleError) as refused:
        fluids_from_json(
            {"rows": [row("a", grade="")], "ambient": {"from": 3}}, path="q"
        )
    assert [str(fault) for fault in refused.value.faults] == [
        'q.rows[0].grade: Expected a grade such as "15W-50", not an empty text.',
        'q: The key "engine" is missing.',
        'q.ambient: Both "from" and "to" are needed: a season has both ends.',
    ]
    (unknown,) = fluids_from_json({"rows": [row("a")], "engine": {}})["rows"]
    assert (unknown["suited"], unknown["verdict"]) == (None, "undetermined")
    assert unknown["missing"] == ["ambient temperatures of the coming season"]
