"""What the library refuses, put so that the forms of the house can show it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from django.http import QueryDict

from notices import library
from notices.documents import DocumentRefused
from notices.rules.errors import Fault, RuleError
from tracker.fleet.errors import ChangedMeanwhile, Refused
from tracker.web.forms.acts import ActForm


class Faulty(Refused):
    """Several faults of one entry together, each with its path."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        super().__init__("", "; ".join(map(str, faults)))
        self.faults = tuple(faults)


@contextmanager
def library_acts() -> Iterator[None]:
    """Turn what the library raises into what `answered` shows beside a field."""
    try:
        yield
    except RuleError as error:
        raise Faulty(error.faults) from error
    except library.ChangedMeanwhile as changed:
        raise ChangedMeanwhile("", str(changed)) from changed
    except library.LibraryRefused as refused:
        raise Refused("", str(refused)) from refused
    except DocumentRefused as refused:
        raise Refused("file", str(refused)) from refused


class LibraryForm(ActForm):
    """Shows each fault at the field that its path begins with, the rest before it."""

    def refuse(self, refused: Refused) -> None:
        if not isinstance(refused, Faulty):
            super().refuse(refused)
            return
        for fault in refused.faults:
            self.place(fault)

    def place(self, fault: Fault) -> None:
        """Show one fault. A field that is marked already says enough."""
        name, rest = parted(fault.path)
        if name not in self.errors or name not in self.fields:
            super().refuse(Refused(name, str(Fault(rest, fault.message))))


def parted(path: str) -> tuple[str, str]:
    """Return the field that a path begins with, and where in it: "action", "repeat"."""
    for place, character in enumerate(path):
        if character in ".[":
            rest = path[place:].removeprefix(".")
            return path[:place], rest
    return path, ""


def typed(sent: QueryDict, prefix: str, names: Iterable[str]) -> dict[str, Any]:
    """Return what was sent of the fields with a prefix, as it was typed."""
    found = {name: sent.get(f"{prefix}-{name}") for name in names}
    return {name: value for name, value in found.items() if value is not None}
