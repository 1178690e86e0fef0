"""What is stated of an engine itself, with its rebuilds on record -> what the core asks."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from operator import attrgetter
from typing import Any, Final, Literal

from notices.rules.columns import IdentityRow
from notices.rules.facts import UNKNOWN, Unknown

STATED: Final = (
    "engine_type__designation",
    "type_complete",
    "serial",
    "engine_type__serial_pattern",
    "engine_type__serial_run",
    "built",
    "shipped",
    "rebuilt",
    "rebuilt_undated",
    "rebuilt_known",
)
"""The columns of `Identity`, as a query names them."""

stated_in: Final = attrgetter(*(name.replace("__", ".") for name in STATED))
"""Returns the same of an instance."""


def identity_row(
    stated: Sequence[Any], last_rebuild: date | None, *, reviewed: bool = False
) -> IdentityRow:
    """Return what an engine is. `stated`: as in `STATED`.

    `reviewed`: what is not recorded of its history did not happen.
    """
    kind, complete, serial, pattern, run, built, shipped, *of_rebuild = stated
    entered, undated, said = of_rebuild
    return IdentityRow(
        type=kind,
        type_complete=complete,
        serial=serial or UNKNOWN,
        serial_pattern=pattern or None,
        serial_run=run,
        built=built or UNKNOWN,
        shipped=shipped or UNKNOWN,
        rebuilt=_rebuilt(last_rebuild or entered, undated, never=said or reviewed),
    )


def _rebuilt(
    on: date | None, undated: bool, *, never: bool
) -> date | Literal[True] | Unknown | None:
    if on is not None:
        return on
    if undated:
        return True
    return None if never else UNKNOWN
