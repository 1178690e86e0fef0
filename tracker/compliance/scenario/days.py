"""Days of the scenario, written relative to the day on which it is loaded.

"today-14m" is fourteen plain months ago, "today+20d" in twenty days.
"""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

from notices.rules.months import plus_months

_DAY = re.compile(r"today(?:([+-][0-9]+)([md]))?")


def day(text: str, today: date) -> date:
    """Return the day that a text means; ValueError if it is not one."""
    found = _DAY.fullmatch(text)
    if found is None:
        raise ValueError(
            f'"{text}" is not a day. Write one as "today-14m" or "today+20d".'
        )
    if found[1] is None:
        return today
    count = int(found[1])
    return plus_months(today, count) if found[2] == "m" else today + timedelta(count)


def with_days(value: Any, today: date) -> Any:
    """Return a JSON value with every such text replaced by the ISO date it means."""
    match value:
        case dict():
            return {key: with_days(member, today) for key, member in value.items()}
        case list():
            return [with_days(member, today) for member in value]
        case str() if _DAY.fullmatch(value):
            return day(value, today).isoformat()
    return value
