"""A stored rule in plain sentences, part by part."""

from __future__ import annotations

from dataclasses import dataclass

from notices.models import RuleVersion
from notices.rules.applicability.wording import condition_sentence
from notices.rules.conditions import parse_condition
from notices.rules.fluids import parse_rows
from notices.rules.fluids_wording import row_words
from notices.rules.overhaul import parse_interval
from notices.rules.overhaul_wording import interval_sentences
from notices.rules.times.actions import parse_action
from notices.rules.times.wording import action_words

ALWAYS = {"always": True}


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleWords:
    """Empty where a rule has no such part, or narrows nothing."""

    applicability: str
    condition: str
    action: str
    interval: str
    fluids: tuple[str, ...]


def words_of(version: RuleVersion) -> RuleWords:
    applicability, condition = version.applicability, version.condition
    interval, fluids = version.interval, version.fluids
    return RuleWords(
        applicability=_sentence(applicability),
        condition="" if condition == ALWAYS else _sentence(condition),
        action=action_words(parse_action(version.action)) if version.action else "",
        interval=interval_sentences(parse_interval(interval)) if interval else "",
        fluids=tuple(map(row_words, parse_rows(fluids))) if fluids else (),
    )


def _sentence(raw: object) -> str:
    return condition_sentence(parse_condition(raw)) if raw else ""
