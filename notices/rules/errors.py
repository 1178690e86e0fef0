"""What is said about a rule, or a set of facts, that cannot be understood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault. `path`: where, as in `all[1].serial[0]`, "" for the whole.

    `message`: full sentences saying what was found and what was expected there.
    """

    path: str
    message: str

    def __str__(self) -> str:
        return f"{self.path}: {self.message}" if self.path else self.message


class RuleError(ValueError):
    """All faults of one rule or one set of facts together, in the order found."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        if not faults:
            raise ValueError("A RuleError needs at least one fault.")
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


def child_path(path: str, step: str | int) -> str:
    """Return the path one step further in: a key after a point, an index in brackets."""
    if isinstance(step, int):
        return f"{path}[{step}]"
    return f"{path}.{step}" if path else step
