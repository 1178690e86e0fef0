"""The time zones that exist here."""

from __future__ import annotations

import functools
import zoneinfo


@functools.cache
def time_zones() -> tuple[str, ...]:
    """Return their names in order; the first call walks a tree of files."""
    return tuple(sorted(zoneinfo.available_timezones()))
