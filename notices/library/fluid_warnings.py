"""What whoever enters a table of oils should look at twice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from notices.rules.designations import plain_text
from notices.rules.fluids import FluidRow


def fluid_warnings(rows: Sequence[FluidRow]) -> Iterator[str]:
    """Yield a sentence for each row that says what another one says already."""
    said: dict[FluidRow, int] = {}
    for number, row in enumerate(rows, start=1):
        same = replace(
            row, id="", grade=plain_text(row.grade), note="", fuel=_in_order(row)
        )
        if same in said:
            yield (
                f"Oil {number}, {row.grade} {row.kind}, says the same as oil "
                f"{said[same]}. Take one of them out."
            )
        said.setdefault(same, number)


def _in_order(row: FluidRow) -> tuple[str, ...]:
    return tuple(sorted(row.fuel))
