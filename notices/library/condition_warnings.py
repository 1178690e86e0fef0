"""What whoever enters a condition should look at twice."""

from __future__ import annotations

from collections.abc import Iterator

from notices.library.intervals import Types, Witness, serials_at_ends
from notices.rules.conditions import SerialIn, leaves_of
from notices.rules.evaluate import CompiledCondition, Outcome
from notices.rules.facts import Asked
from notices.rules.phrases import listed
from notices.rules.serials import fits_pattern, parse_serial


def condition_warnings(condition: CompiledCondition, types: Types) -> Iterator[str]:
    """Yield sentences about a whole condition. `types`: the station's."""
    if _outcome(condition, Witness(type="")) is Outcome.DOES_NOT_APPLY:
        yield (
            "Its condition is true for no engine, together with whom the revision is "
            "about: it would never be found. Look at both once more."
        )
        return
    yield from _serials_of_no_type(condition, types)


def _outcome(condition: CompiledCondition, witness: Witness) -> Outcome:
    return condition.outcome(witness.facts, Asked())


def _serials_of_no_type(condition: CompiledCondition, types: Types) -> Iterator[str]:
    """Warn of ranges whose serials no engine of the types that are meant can have."""
    leaves = [
        one for one in leaves_of(condition.condition) if isinstance(one, SerialIn)
    ]
    if not leaves:
        return
    meant = {
        name: pattern
        for name, pattern in types.items()
        if _outcome(condition, Witness(type=name)) is not Outcome.DOES_NOT_APPLY
    }
    if not meant or not all(meant.values()):
        return
    shapes = listed(
        [f"{pattern} ({name})" for name, pattern in sorted(meant.items())], "or"
    )
    for leaf in leaves:
        for span in leaf.ranges:
            if leaf.suffix != "any" and not any(
                fits_pattern(parse_serial(serial), pattern)
                for serial in serials_at_ends(span)
                for pattern in meant.values()
            ):
                yield (
                    f'Serials "{span.text}" are of another shape than those of the type: '
                    f"{shapes}. Whether an engine is among them cannot be said."
                )
