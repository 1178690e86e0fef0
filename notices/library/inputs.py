"""What somebody enters about a revision, and what the library refuses."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, TypedDict

from notices.models import Provision

Json = Any


class LibraryRefused(ValueError):  # noqa: N818  # said so in every sentence
    """What was asked for cannot be done as things stand; the message says why."""


class ChangedMeanwhile(LibraryRefused):
    """Somebody else has changed it since it was looked at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceInput:
    """`kind`: a value of `Reference.Kind`. `number`: as printed."""

    kind: str
    number: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProvisionInput:
    """One provision as entered. `man_hours`: whole hundredths of an hour.

    `condition`: what narrows the applicability of the revision here, None for nothing.
    `action`: compliance times, `interval`: an overhaul interval without its `when`,
    `fluids`: rows of oils and fluids; each as JSON, None for none. Which of them goes
    with which kind, `notices.library.contents` says.
    """

    title: str
    kind: str = Provision.Kind.ACTION
    description: str = ""
    category: str = Provision.Category.MANDATORY
    role: str = ""
    effective_on: date | None = None
    ferry: str = Provision.Ferry.UNSAID
    report_to: str = ""
    man_hours: int | None = None
    parts_needed: str = ""
    embodies: Sequence[str] = ()
    condition: Mapping[str, Json] | None = None
    action: Mapping[str, Json] | None = None
    interval: Mapping[str, Json] | None = None
    fluids: Sequence[Json] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionInput:
    """One revision as entered. `applicability`: None while it is not stated yet."""

    label: str
    issued_on: date | None = None
    effective_on: date | None = None
    summary: str = ""
    applicability: Mapping[str, Json] | None = None
    provisions: Sequence[ProvisionInput] = field(default=())
    references: Sequence[ReferenceInput] = field(default=())


class RuleChange(TypedDict, total=False):
    """What of a rule is to be otherwise; what is left out, or None, stays as it was."""

    applicability: Mapping[str, Json] | None
    condition: Mapping[str, Json] | None
    action: Mapping[str, Json] | None
    interval: Mapping[str, Json] | None
    fluids: Sequence[Json] | None
