"""How one cell of the table is asked, and what its answer must be.

A cell is a route and method, a person, and whose object the address names. Each is
asked with a fresh client under a savepoint, so that no cell sees what another did.
"""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import Enum
from typing import Any

from django.core import mail
from django.db import connection, transaction
from django.http import HttpResponseBase
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from tests.tracker.payloads import PAYLOADS, Payload
from tests.tracker.rights import HOLDERS
from tests.tracker.world import Side, World, our_models
from tracker.accounts.access import Right
from tracker.accounts.models import Role
from tracker.gate import Found, discovered
from tracker.routes import ROUTES, Audience, Route


class Who(Enum):
    ANONYMOUS = "anonymous"
    NOBODY = "of no station"
    ADMINISTRATOR = Role.ADMINISTRATOR
    TECHNICIAN = Role.TECHNICIAN
    INSPECTOR = Role.INSPECTOR
    OWNER = Role.OWNER


class Whose(Enum):
    OWN = "own"
    FOREIGN = "foreign"
    OTHERS = "another customer's"


class Answer(Enum):
    OK = "ok"
    LOGIN = "login"
    FORBIDDEN = "forbidden"
    HIDDEN = "hidden"


@dataclass(frozen=True)
class Cell:
    route: Route
    who: Who
    whose: Whose

    def __str__(self) -> str:
        return (
            f"{self.route.method} {self.route.name} as {self.who.value}, "
            f"{self.whose.value} object"
        )

    @property
    def is_api(self) -> bool:
        return self.route.name.startswith("api:")

    @property
    def expected(self) -> Answer:
        needs = self.route.needs
        if needs is Audience.ANYBODY:
            # The other station has its open page switched off, its secrets ended.
            return Answer.HIDDEN if self.whose is Whose.FOREIGN else Answer.OK
        if self.who is Who.ANONYMOUS:
            return Answer.LOGIN
        if needs is Audience.SIGNED_IN:
            return Answer.OK
        assert isinstance(needs, Right)
        if self.who is Who.NOBODY or Role(self.who.value) not in HOLDERS[needs]:
            return Answer.FORBIDDEN
        if self.whose is Whose.FOREIGN:
            return Answer.HIDDEN
        others = self.whose is Whose.OTHERS and self.who is Who.OWNER
        return Answer.HIDDEN if others and self.route.owned else Answer.OK


def cells() -> Iterator[Cell]:
    for route in ROUTES:
        for who in Who:
            yield Cell(route, who, Whose.OWN)
            if route.names:
                yield Cell(route, who, Whose.FOREIGN)
            if route.owned:
                yield Cell(route, who, Whose.OTHERS)


FOUND: dict[str, Found] = {found.name: found for found in discovered()}


def addresses(cell: Cell, world: World) -> list[str]:
    """The addresses of a cell: a foreign one for each thing that it could name."""
    parameters = FOUND[cell.route.name].parameters
    own = {name: _named(world.own.names, name) for name in parameters}
    if cell.whose is Whose.OWN:
        named = [own]
    elif cell.whose is Whose.OTHERS:
        named = [{name: _named(world.own.others, name) for name in parameters}]
    else:
        foreign = {name: _named(world.foreign.names, name) for name in parameters}
        named = [own | {name: foreign[name]} for name in parameters] + [foreign]
    return [reverse(cell.route.name, kwargs=kwargs) for kwargs in named]


def _named(names: dict[str, str], parameter: str) -> str:
    """A parameter that names no row of ours is given as it is in a link of a mail."""
    given = {"uidb36": "1", "key": "set-password", **names}
    assert parameter in given, f"the walk's world has no object named {parameter}"
    return given[parameter]


def client_of(who: Who, world: World, **given: Any) -> Client:
    client = Client(**given)
    if who is Who.NOBODY:
        client.force_login(world.nobody)
    elif who is not Who.ANONYMOUS:
        client.force_login(world.own.people[Role(who.value)])
    return client


def ask(client: Client, cell: Cell, address: str, sent: Payload) -> HttpResponseBase:
    if cell.route.method == "GET":
        return client.get(address, sent)
    if cell.is_api:
        return client.post(address, json.dumps(sent), "application/json")
    return client.post(address, sent)


def payload(cell: Cell, world: World) -> Payload:
    make = PAYLOADS.get((cell.route.name, cell.route.method))
    return make(world.own) if make else {}


@contextmanager
def undone() -> Iterator[None]:
    """Undo what happens inside; an act inside may open its own outermost transaction."""
    block = transaction.atomic()
    block._from_testcase = True  # what Django's own test base says of its transactions
    with block:
        yield
        transaction.set_rollback(True)
    mail.outbox.clear()


def answer_of(response: HttpResponseBase, cell: Cell) -> Answer | str:
    """What a response is in the words of the table, or its status as it stands."""
    to_login = str(response.headers.get("Location", "")).startswith(
        reverse("account_login")
    )
    status = response.status_code
    if status == 401 or (status == 302 and to_login and not _leads_there(cell)):
        return Answer.LOGIN
    if status == 403:
        return Answer.FORBIDDEN
    if status == 404:
        return Answer.HIDDEN
    if status == 503 and cell.route.name == "web:ready":
        return Answer.OK  # that it is not ready is what it has to say
    return Answer.OK if status < 400 else f"status {status}"


def _leads_there(cell: Cell) -> bool:
    """Signing out leads to the sign-in page, and is done all the same."""
    return cell.route.name == "account_logout" and cell.who is not Who.ANONYMOUS


def digest() -> str:
    """A digest of every row of ours, which a refused request must leave as it is."""
    total = hashlib.sha256()
    with connection.cursor() as cursor:
        for model in our_models():
            table = connection.ops.quote_name(model._meta.db_table)
            cursor.execute(f"SELECT * FROM {table} ORDER BY 1")  # noqa: S608  # our own names
            for row in cursor:
                total.update(repr(row).encode())
    return total.hexdigest()


def text_of(response: HttpResponseBase) -> str:
    """All that a response lets through: headers, and the body taken apart."""
    streamed = getattr(response, "streaming_content", None)
    body = b"".join(streamed) if streamed is not None else response.content
    parts = [repr(dict(response.headers)), body.decode("utf-8", "replace")]
    if body.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(body)) as archive:
            parts += [
                archive.read(name).decode("utf-8", "replace")
                for name in archive.namelist()
            ]
    if response.headers.get("Content-Type", "").startswith("application/pdf"):
        parts += [page.extract_text() for page in PdfReader(io.BytesIO(body)).pages]
    return "\n".join(parts)


HEADERS = {
    "X-Frame-Options": "DENY",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}


def missing_headers(response: HttpResponseBase, cell: Cell) -> list[str]:
    """The headers that a response lacks, or has otherwise than they must be."""
    wanted = dict(HEADERS)
    if cell.route.by_secret:
        wanted |= {"Referrer-Policy": "no-referrer", "X-Robots-Tag": "noindex"}
    if cell.who is not Who.ANONYMOUS and response.status_code != 302:
        wanted["Cache-Control"] = "no-store"
    wrong = [name for name, value in wanted.items() if response.get(name) != value]
    policy = response.get("Content-Security-Policy", "")
    if "default-src 'none'" not in policy or "unsafe" in policy:
        wrong.append("Content-Security-Policy")
    if "Permissions-Policy" not in response:
        wrong.append("Permissions-Policy")
    return wrong


def swapped(sent: Payload, own: Side, foreign: Side) -> Iterator[Payload]:
    """The payload with each id of ours in it replaced by the foreign one, in turn."""
    theirs = {own.names[name]: foreign.names[name] for name in own.names}
    for key, value in sent.items():
        if isinstance(value, str) and value in theirs:
            yield sent | {key: theirs[value]}
