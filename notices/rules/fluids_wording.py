"""A row of a table of oils as a plain English sentence."""

from __future__ import annotations

from notices.rules.applicability.wording import condition_sentence, sentence
from notices.rules.fluids import FluidRow
from notices.rules.phrases import listed
from notices.rules.temperatures import Span, degrees_words


def row_words(row: FluidRow) -> str:
    """Return the row as sentences: "15W-50, mineral, from 0 °C to 40 °C, ..."."""
    said = [
        f"{row.grade}, {row.kind}, ambient {ambient_words(row.ambient)}, {fuel_words(row)}."
    ]
    if row.when is not None:
        said.append(f"Only where: {condition_sentence(row.when)}")
    if row.note:
        said.append(sentence(row.note))
    return " ".join(said)


def ambient_words(span: Span) -> str:
    """Return ambient temperatures in the unit they were entered in."""
    low, high = (
        None if end is None else degrees_words(end, span.unit)
        for end in (span.low, span.high)
    )
    if low is None:
        return f"up to {high}"
    return f"from {low} up" if high is None else f"from {low} to {high}"


def fuel_words(row: FluidRow) -> str:
    """Return what may be in the tank: "with unleaded or leaded fuel"."""
    return f"with {listed(row.fuel, 'or')} fuel"
