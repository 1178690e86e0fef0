"""Random compliance times, pasts and engines, in JSON, for the tests of the core."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from hypothesis import strategies as st

DAY = date(2026, 1, 1)
EVENTS = ("overhaul", "oil change", "propeller strike")


def days(first: int = -400, last: int = 400) -> st.SearchStrategy[str]:
    """Dates around the start of 2026."""
    offsets = st.integers(min_value=first, max_value=last)
    return offsets.map(lambda n: (DAY + timedelta(days=n)).isoformat())


HOURS = st.integers(min_value=0, max_value=200_000).map(lambda n: n / 100)
MARKS = st.sampled_from(["effective", "new", "overhaul", "last done"])
EVENT_ANCHORS = st.fixed_dictionaries(
    {"event": st.sampled_from(EVENTS)}, optional={"after": MARKS}
)
ANCHORS: st.SearchStrategy[Any] = (
    MARKS | EVENT_ANCHORS | st.fixed_dictionaries({"date": days()})
)
HOUR_LIMITS = st.fixed_dictionaries(
    {
        "hours": st.integers(min_value=1, max_value=50_000).map(lambda n: n / 100),
        "after": ANCHORS,
    }
)
MONTH_LIMITS = st.fixed_dictionaries(
    {"months": st.integers(min_value=1, max_value=36), "after": ANCHORS},
    optional={"calendar": st.booleans()},
)
DAY_LIMITS = st.fixed_dictionaries(
    {"days": st.integers(min_value=1, max_value=400), "after": ANCHORS}
)
DATE_LIMITS = st.fixed_dictionaries({"date": days()})
EVENT_LIMITS = st.fixed_dictionaries(
    {"event": st.sampled_from([*EVENTS, "further flight"])},
    optional={"after": MARKS},
)
LIMITS: st.SearchStrategy[Any] = (
    HOUR_LIMITS | MONTH_LIMITS | DAY_LIMITS | DATE_LIMITS | EVENT_LIMITS
)
CONDITIONS: st.SearchStrategy[Any] = st.sampled_from(
    [
        {"always": True},
        {"attribute": "drive", "in": ["geared"]},
        {"not": {"attribute": "drive", "in": ["geared"]}},
        {"result": ["pitted"]},
        {"embodied": "SB-1"},
    ]
)


def _nested(times: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    members = st.lists(times, min_size=1, max_size=3)
    case = st.fixed_dictionaries({"when": CONDITIONS, "then": times})
    otherwise = st.fixed_dictionaries({"else": times})
    cases = st.builds(
        lambda first, last: [*first, *last],
        st.lists(case, min_size=1, max_size=2),
        st.lists(otherwise, max_size=1),
    )
    return (
        st.fixed_dictionaries({"first_of": members})
        | st.fixed_dictionaries({"last_of": members})
        | st.fixed_dictionaries({"cases": cases})
    )


TIMES: st.SearchStrategy[Any] = st.recursive(LIMITS, _nested, max_leaves=5)
TOLERANCES = st.fixed_dictionaries(
    {"hours": st.integers(min_value=1, max_value=30)},
    optional={
        "days": st.integers(min_value=1, max_value=30),
        "en_route": st.booleans(),
        "early": st.booleans(),
    },
)
CREDITS: st.SearchStrategy[Any] = st.just(True) | st.fixed_dictionaries(
    {"of": st.just(["SB-1", {"number": "SB-2", "revisions": ["1"]}])}
)
ACTIONS: st.SearchStrategy[dict[str, Any]] = st.fixed_dictionaries(
    {"initial": TIMES},
    optional={
        "when": CONDITIONS,
        "credit": CREDITS,
        "tolerance": TOLERANCES,
        "ends_with": st.just(["SB-9", {"embodied": "SB-1"}]),
        "counts": st.just(["oil change"]),
    },
) | st.fixed_dictionaries(
    {"initial": TIMES, "repeat": TIMES},
    optional={
        "when": CONDITIONS,
        "until": TIMES,
        "restart": st.sampled_from(["done", "planned"]),
        "tolerance": TOLERANCES,
    },
)
PASTS = st.fixed_dictionaries(
    {},
    optional={
        "effective": st.fixed_dictionaries({}, optional={"on": days(), "hours": HOURS}),
        "done": st.lists(
            st.fixed_dictionaries(
                {"on": days(-400, 0)},
                optional={
                    "hours": HOURS,
                    "result": st.sampled_from(["pitted", "clean"]),
                    "number": st.sampled_from(["SB-1", "SB-2"]),
                    "en_route": st.booleans(),
                },
            ),
            max_size=3,
        ),
        "events": st.lists(
            st.fixed_dictionaries(
                {"event": st.sampled_from(EVENTS), "on": days(-400, 100)},
                optional={"hours": HOURS},
            ),
            max_size=3,
        ),
        "readings": st.lists(
            st.fixed_dictionaries({"on": days(-400, 0), "hours": HOURS}), max_size=4
        ),
    },
)
ENGINES = st.fixed_dictionaries(
    {},
    optional={
        "built": days(-4000, -1000),
        "hours": st.fixed_dictionaries({"new": HOURS}),
        "attributes": st.fixed_dictionaries(
            {"drive": st.sampled_from(["geared", "direct"])}
        ),
        "embodied": st.lists(st.sampled_from(["SB-1", "SB-9"]), max_size=1),
        "history_reviewed": st.booleans(),
    },
)
QUESTIONS: st.SearchStrategy[dict[str, Any]] = st.builds(
    lambda action, engine, past, on: {
        "action": action,
        "engine": engine,
        "on": on,
        **past,
    },
    ACTIONS,
    ENGINES,
    PASTS,
    days(0, 400),
)
