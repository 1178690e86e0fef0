"""Who may do what. Every `visible_to(viewer)` and every view builds on this page."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from django.core.exceptions import PermissionDenied

from tracker.accounts.models import Role, Station, User


class Right(Enum):
    """What somebody may want to do; the value completes "You may not ..."."""

    SEE_ENGINES = "see engines"
    SEE_NOTICES = "see publications"
    SEE_OWNERS = "see owners"
    ADD_READING = "add hours readings"
    ADD_FUEL = "add fuel records"
    EDIT_FLEET = "change engines, parts and owners"
    IMPORT_FLEET = "import and export sheets"
    RECORD_WORK = "add records to the ledger"
    ANSWER = "answer questions about an engine"
    DECLINE = "mark an advisory document as not adopted"
    ENTER_ALTERNATIVES = "enter an alternative method of compliance"
    ENTER_NOTICES = "enter publications and revisions"
    CONFIRM_NOTICES = "confirm or cancel a revision"
    ANSWER_ENQUIRIES = "see and answer enquiries"
    SEND_MESSAGES = "send messages"
    SET_PREFERENCES = "say how an owner is told"
    MANAGE_STATION = "change the station"


_STAFF = frozenset(
    {
        Right.SEE_ENGINES,
        Right.SEE_NOTICES,
        Right.SEE_OWNERS,
        Right.ADD_READING,
        Right.ADD_FUEL,
        Right.EDIT_FLEET,
        Right.IMPORT_FLEET,
        Right.RECORD_WORK,
        Right.ANSWER,
        Right.DECLINE,
        Right.ENTER_ALTERNATIVES,
        Right.ENTER_NOTICES,
        Right.ANSWER_ENQUIRIES,
        Right.SEND_MESSAGES,
        Right.SET_PREFERENCES,
    }
)
_RIGHTS: dict[Role, frozenset[Right]] = {
    Role.ADMINISTRATOR: frozenset(Right),
    Role.TECHNICIAN: _STAFF,
    Role.INSPECTOR: _STAFF | {Right.CONFIRM_NOTICES},
    Role.OWNER: frozenset(
        {
            Right.SEE_ENGINES,
            Right.SEE_NOTICES,
            Right.ADD_READING,
            Right.ADD_FUEL,
            Right.SET_PREFERENCES,
        }
    ),
}


class Forbidden(PermissionDenied):
    """Refused for want of a right. Pages answer 403 with it, and so does the API."""

    def __init__(self, right: Right) -> None:
        super().__init__(f"You may not {right.value}.")
        self.right = right


@dataclass(frozen=True, slots=True, kw_only=True)
class Viewer:
    """A signed-in person acting in one station. Passed explicitly, never global."""

    user: User
    station: Station
    role: Role

    @property
    def is_owner(self) -> bool:
        return self.role is Role.OWNER

    def may(self, right: Right) -> bool:
        return right in _RIGHTS[self.role]

    def require(self, right: Right) -> None:
        """Raise Forbidden without the right."""
        if not self.may(right):
            raise Forbidden(right)
