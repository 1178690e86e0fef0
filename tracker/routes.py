"""The one declared table: who gets what answer from which route and method.

A view whose route and method have no row here does not answer (`tracker.gate`), and a
test walks every row as every person, on own and foreign objects. To add a page: its
path in the app's urls.py, its row here, and in the walk's world what it needs.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

from tracker.accounts.access import Right


class Audience(Enum):
    """Who may come without any right at a station."""

    ANYBODY = "anybody"
    SIGNED_IN = "whoever is signed in"


@dataclass(frozen=True, slots=True)
class Route:
    """One route name and method.

    `needs`: the right that is checked before the view runs. `names`: what kind of
    object the address names; a foreign one answers 404, like one that is not there.
    `owned`: an owner sees it only where it belongs to them, not to another customer of
    the same station. `queries`: the most that a page may ask of the database, whatever
    the number of rows. `changes`: whether it may change anything; what may not needs no
    token of a form. `by_secret`: the address itself is the right, so no token is needed
    either, and no referrer is sent.
    """

    name: str
    method: str
    needs: Right | Audience
    names: str = ""
    owned: bool = False
    queries: int | None = None
    changes: bool = True
    by_secret: bool = False


def page(
    name: str,
    needs: Right | Audience,
    queries: int,
    names: str = "",
    *,
    owned: bool = False,
) -> Route:
    """A page or resource that is only looked at."""
    return Route(name, "GET", needs, names, owned, queries, changes=False)


def question(
    name: str, needs: Right | Audience, queries: int, names: str = ""
) -> tuple[Route, Route]:
    """A page whose form is sent apart from the address, and changes nothing either."""
    shown = page(name, needs, queries, names)
    return shown, Route(name, "POST", needs, names, queries=queries, changes=False)


def act(
    name: str, needs: Right | Audience, names: str = "", *, owned: bool = False
) -> Route:
    """Something that changes a fact."""
    return Route(name, "POST", needs, names, owned)


def form(
    name: str,
    needs: Right | Audience,
    queries: int,
    names: str = "",
    *,
    owned: bool = False,
) -> tuple[Route, Route]:
    """A page that is a form, and the act that it sends."""
    shown = page(name, needs, queries, names, owned=owned)
    return shown, act(name, needs, names, owned=owned)


def secret(*rows: Route) -> tuple[Route, ...]:
    """The same rows, for addresses that nobody can guess."""
    return tuple(replace(row, by_secret=True) for row in rows)


ANYBODY = Audience.ANYBODY
SIGNED_IN = Audience.SIGNED_IN

ROUTES = (
    page("account_login", ANYBODY, 3),
    act("account_login", ANYBODY),
    page("account_inactive", ANYBODY, 3),
    page("account_logout", SIGNED_IN, 3),
    act("account_logout", SIGNED_IN),
    page("account_change_password", SIGNED_IN, 3),
    act("account_change_password", SIGNED_IN),
    page("account_reset_password", ANYBODY, 3),
    act("account_reset_password", ANYBODY),
    page("account_reset_password_done", ANYBODY, 3),
    page("account_reset_password_from_key", ANYBODY, 4),
    act("account_reset_password_from_key", ANYBODY),
    page("account_reset_password_from_key_done", ANYBODY, 3),
    page("account_stations", SIGNED_IN, 4),
    act("account_stations", SIGNED_IN),
    # -- whoever watches the service --
    page("web:alive", ANYBODY, 3),
    page("web:ready", ANYBODY, 16),
    # -- people without an account --
    *question("web:check", ANYBODY, 6, "address"),
    *form("web:check-contact", ANYBODY, 4, "address"),
    page("web:check-sent", ANYBODY, 4, "address"),
    *secret(*form("web:hours", ANYBODY, 5, "hours_secret")),
    *secret(*form("web:unsubscribe", ANYBODY, 4, "unsubscribe_token")),
    *secret(page("web:calendar-feed", ANYBODY, 16, "calendar_secret")),
    page("web:enquiry-list", Right.ANSWER_ENQUIRIES, 6),
    page("web:enquiry", Right.ANSWER_ENQUIRIES, 5, "enquiry"),
    act("web:enquiry-answer", Right.ANSWER_ENQUIRIES, "enquiry"),
    act("web:enquiry-delete", Right.ANSWER_ENQUIRIES, "enquiry"),
    # -- station --
    page("web:station", Right.MANAGE_STATION, 6),
    page("web:station-settings", Right.MANAGE_STATION, 3),
    act("web:station-settings", Right.MANAGE_STATION),
    page("web:person-add", Right.MANAGE_STATION, 3),
    act("web:person-add", Right.MANAGE_STATION),
    act("web:person-role", Right.MANAGE_STATION, "person"),
    act("web:person-end", Right.MANAGE_STATION, "person"),
    page("web:login-add", Right.MANAGE_STATION, 5),
    act("web:login-add", Right.MANAGE_STATION),
    act("web:login-end", Right.MANAGE_STATION, "owner, person"),
    page("web:hook-list", Right.MANAGE_STATION, 4),
    *form("web:hook-add", Right.MANAGE_STATION, 3),
    act("web:hook-secret", Right.MANAGE_STATION, "hook"),
    act("web:hook-switch", Right.MANAGE_STATION, "hook"),
    act("web:hook-test", Right.MANAGE_STATION, "hook"),
    # -- pages that show --
    page("web:due", Right.SEE_ENGINES, 42),
    page("web:due-open", Right.SEE_ENGINES, 8),
    page("web:due-missing", Right.SEE_ENGINES, 4),
    page("web:engine-list", Right.SEE_ENGINES, 7),
    page("web:engine", Right.SEE_ENGINES, 35, "engine", owned=True),
    page("web:engine-history", Right.SEE_ENGINES, 19, "engine", owned=True),
    page("web:engine-not-applying", Right.SEE_ENGINES, 29, "engine", owned=True),
    page("web:engine-fuel", Right.SEE_ENGINES, 29, "engine", owned=True),
    page("web:engine-oils", Right.SEE_ENGINES, 26, "engine", owned=True),
    page("web:engine-overhaul", Right.SEE_ENGINES, 29, "engine", owned=True),
    page("web:engine-status", Right.SEE_ENGINES, 29, "engine", owned=True),
    page("web:engine-status-pdf", Right.SEE_ENGINES, 29, "engine", owned=True),
    page("web:aircraft-status", Right.SEE_ENGINES, 31, "engine", owned=True),
    page("web:aircraft-status-pdf", Right.SEE_ENGINES, 31, "engine", owned=True),
    page("web:owner-status", Right.SEE_ENGINES, 30, "owner", owned=True),
    page("web:owner-status-pdf", Right.SEE_ENGINES, 30, "owner", owned=True),
    page("web:owner-list", Right.SEE_OWNERS, 7),
    page("web:owner", Right.SEE_OWNERS, 10, "owner"),
    page("web:message-list", Right.SEE_ENGINES, 9),
    page("web:message", Right.SEE_ENGINES, 6, "message", owned=True),
    *form("web:message-release", Right.SEND_MESSAGES, 4, "held_message"),
    *form("web:message-resend", Right.SEND_MESSAGES, 4, "ended_message"),
    page("web:message-file", Right.SEE_ENGINES, 4, "message", owned=True),
    page("web:publication-list", Right.SEE_NOTICES, 6),
    page("web:publication", Right.SEE_NOTICES, 19, "publication"),
    page("web:publication-not-affected", Right.SEE_NOTICES, 28, "publication"),
    page("web:publication-revision", Right.SEE_NOTICES, 14, "revision"),
    page("web:publication-document", Right.SEE_NOTICES, 4, "document"),
    # -- the viewer's own calendar addresses --
    *form("web:calendar", Right.SEE_ENGINES, 6),
    act("web:calendar-end", Right.SEE_ENGINES),
    # -- forms of the fleet --
    *form("web:engine-reading-add", Right.ADD_READING, 6, "engine", owned=True),
    *form("web:engine-fuel-add", Right.ADD_FUEL, 6, "engine", owned=True),
    *form("web:engine-fuel-withdraw", Right.EDIT_FLEET, 6, "engine, fuel"),
    *form("web:engine-add", Right.EDIT_FLEET, 6),
    *form("web:engine-identity", Right.EDIT_FLEET, 6, "engine"),
    *form("web:engine-aircraft", Right.EDIT_FLEET, 5, "engine"),
    *form("web:engine-state", Right.EDIT_FLEET, 4, "engine"),
    *form("web:engine-owner", Right.EDIT_FLEET, 5, "engine"),
    *form("web:engine-operation", Right.EDIT_FLEET, 7, "engine"),
    *form("web:engine-meter", Right.EDIT_FLEET, 5, "engine"),
    *form("web:engine-overhaul-add", Right.EDIT_FLEET, 4, "engine"),
    *form("web:engine-overhaul-withdraw", Right.EDIT_FLEET, 6, "engine, overhaul"),
    *form("web:engine-rebuild-add", Right.EDIT_FLEET, 4, "engine"),
    *form("web:engine-event-add", Right.EDIT_FLEET, 5, "engine"),
    *form("web:engine-event-withdraw", Right.EDIT_FLEET, 5, "engine, event"),
    *form("web:engine-part-add", Right.EDIT_FLEET, 5, "engine"),
    *form("web:engine-part-take", Right.EDIT_FLEET, 7, "engine, known_part"),
    *form("web:engine-part-describe", Right.EDIT_FLEET, 6, "engine, part"),
    *form("web:engine-part-fitting", Right.EDIT_FLEET, 6, "engine, part"),
    *form("web:engine-part-overhaul", Right.EDIT_FLEET, 6, "engine, part"),
    *form("web:engine-part-replace", Right.EDIT_FLEET, 8, "engine, part"),
    *form("web:engine-part-remove", Right.EDIT_FLEET, 6, "engine, part"),
    *form("web:engine-modification-add", Right.EDIT_FLEET, 4, "engine"),
    *form("web:engine-attribute-add", Right.EDIT_FLEET, 12, "engine"),
    *form("web:engine-review-add", Right.EDIT_FLEET, 9, "engine"),
    *form("web:engine-review-lapse", Right.EDIT_FLEET, 4, "engine"),
    *form("web:engine-search-add", Right.EDIT_FLEET, 8, "engine"),
    *form("web:engine-type-add", Right.EDIT_FLEET, 3),
    *form("web:engine-type-change", Right.EDIT_FLEET, 5, "engine_type"),
    *form("web:owner-add", Right.EDIT_FLEET, 3),
    *form("web:owner-change", Right.EDIT_FLEET, 4, "owner"),
    *form("web:owner-preferences", Right.SET_PREFERENCES, 5, "owner", owned=True),
    *form("web:owner-silence", Right.MANAGE_STATION, 4, "owner"),
    act("web:owner-silence-end", Right.MANAGE_STATION, "silenced_owner"),
    page("web:owner-data", Right.MANAGE_STATION, 14, "owner"),
    *form("web:owner-remove", Right.MANAGE_STATION, 4, "former_owner"),
    *form("web:engine-reading-correct", Right.EDIT_FLEET, 4, "reading"),
    page("web:engine-part-find", Right.EDIT_FLEET, 6, "engine"),
    page("web:engine-type-list", Right.EDIT_FLEET, 6),
    *form("web:engine-sheets", Right.IMPORT_FLEET, 4),
    *form("web:engine-sheet", Right.IMPORT_FLEET, 24, "sheet"),
    act("web:engine-sheet-drop", Right.IMPORT_FLEET, "sheet"),
    page("web:engine-sheet-fleet", Right.IMPORT_FLEET, 10),
    page("web:engine-sheet-parts", Right.IMPORT_FLEET, 8),
    page("web:engine-sheet-past", Right.IMPORT_FLEET, 5),
    # -- forms of notices and of the ledger --
    *form("web:publication-add", Right.ENTER_NOTICES, 3),
    *form("web:publication-change", Right.ENTER_NOTICES, 4, "publication"),
    *form("web:publication-tell", Right.SEND_MESSAGES, 5, "publication"),
    *form("web:publication-draft-add", Right.ENTER_NOTICES, 10, "publication"),
    *form("web:publication-draft-change", Right.ENTER_NOTICES, 8, "draft"),
    *form("web:publication-draft-confirm", Right.CONFIRM_NOTICES, 48, "draft"),
    *form("web:publication-draft-discard", Right.ENTER_NOTICES, 4, "draft"),
    *form("web:publication-revision-cancel", Right.CONFIRM_NOTICES, 4, "revision"),
    *form("web:publication-rule-change", Right.CONFIRM_NOTICES, 5, "provision"),
    *form("web:publication-document-add", Right.ENTER_NOTICES, 4, "revision"),
    page("web:publication-document-text", Right.SEE_NOTICES, 6, "document"),
    page("web:engine-ledger", Right.SEE_ENGINES, 8, "engine", owned=True),
    page("web:engine-record", Right.SEE_ENGINES, 6, "record", owned=True),
    page("web:engine-record-file", Right.SEE_ENGINES, 4, "file", owned=True),
    *form("web:engine-record-done", Right.RECORD_WORK, 14, "engine, provision"),
    page("web:engine-archive", Right.IMPORT_FLEET, 60, "engine"),
    *form("web:engine-take-in", Right.IMPORT_FLEET, 3),
    *form("web:engine-record-several", Right.RECORD_WORK, 8, "engine"),
    *form("web:publication-record", Right.RECORD_WORK, 8, "provision"),
    *form("web:engine-record-other", Right.RECORD_WORK, 10, "engine"),
    *form("web:engine-record-past", Right.RECORD_WORK, 4, "engine"),
    *form("web:engine-record-void", Right.RECORD_WORK, 4, "record"),
    page("web:engine-questions", Right.SEE_ENGINES, 30, "engine", owned=True),
    *form("web:engine-answer", Right.ANSWER, 30, "engine, revision"),
    *form("web:engine-alternative", Right.ENTER_ALTERNATIVES, 6, "engine, provision"),
    *form(
        "web:engine-alternative-end", Right.ENTER_ALTERNATIVES, 6, "engine, provision"
    ),
    *form("web:engine-decline", Right.DECLINE, 5, "engine, publication"),
    *form("web:engine-adopt", Right.DECLINE, 6, "engine, publication"),
    # -- the first API --
    page("api:schema", SIGNED_IN, 3),
    page("api:due", Right.SEE_ENGINES, 10),
    page("api:engines", Right.SEE_ENGINES, 5),
    page("api:engine", Right.SEE_ENGINES, 4, "engine", owned=True),
    page("api:engine-findings", Right.SEE_ENGINES, 9, "engine", owned=True),
    page("api:engine-overhaul", Right.SEE_ENGINES, 29, "engine", owned=True),
    page("api:engine-readings", Right.SEE_ENGINES, 6, "engine", owned=True),
    act("api:engine-readings", Right.ADD_READING, "engine", owned=True),
    page("api:engine-fuel", Right.SEE_ENGINES, 6, "engine", owned=True),
    act("api:engine-fuel", Right.ADD_FUEL, "engine", owned=True),
    page("api:fuel", Right.SEE_ENGINES, 4, "fuel", owned=True),
    page("api:publications", Right.SEE_NOTICES, 5),
    page("api:publication", Right.SEE_NOTICES, 7, "publication"),
    page("api:readings", Right.SEE_ENGINES, 5),
    page("api:reading", Right.SEE_ENGINES, 4, "reading", owned=True),
    page("api:engine-records", Right.SEE_ENGINES, 6, "engine", owned=True),
    act("api:engine-records", Right.RECORD_WORK, "engine"),
    page("api:record", Right.SEE_ENGINES, 4, "record", owned=True),
    act("api:record-void", Right.RECORD_WORK, "record"),
)
BY_NAME = {(route.name, route.method): route for route in ROUTES}
METHODS = {
    name: sorted({route.method for route in ROUTES if route.name == name})
    for name in {route.name for route in ROUTES}
}


def route_of(name: str, method: str) -> Route | None:
    """Return the row of a route and method; HEAD is answered as GET is."""
    return BY_NAME.get((name, "GET" if method == "HEAD" else method))
