"""Two mirrored stations with at least one row of every model in both.

Every text of the one called foreign holds CANARY, so that a page of ours which lets
anything of it through is found, whatever the status. `Side.names` gives for each
parameter of an address the public id of an object; `Side.others` the same for what
belongs to another customer of the same station.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime

from django.apps import apps
from django.db import models
from reportlab.pdfgen import canvas

from notices import library
from notices.models import Kind, Provision, Reference, Revision
from tests.factories.accounts import PASSWORD, MembershipFactory, UserFactory
from tests.factories.compliance import entry
from tests.tracker.world_of_links import add_calendars, end_secrets
from tests.tracker.world_of_messages import add_messages, add_stuck
from tracker.accounts.access import Viewer
from tracker.accounts.models import Membership, Role, Station, User
from tracker.compliance import changes
from tracker.compliance.ledger import Upload
from tracker.compliance.models import Enquiry, Finding
from tracker.fleet import logins
from tracker.fleet.fuel import FuelEntry
from tracker.fleet.models import (
    Engine,
    Owner,
    Part,
    Review,
    SearchKind,
    SheetKind,
    WaitingSheet,
)
from tracker.fleet.parts import Fit, PartEntry
from tracker.fleet.register import (
    FittingFacts,
    IdentityFacts,
    NewEngine,
    OperationFacts,
    OwnerFacts,
    TypeFacts,
)
from tracker.handover.writing import archive_of

CANARY = "ZQXKWJB7"  # long enough for no random token of a form to hold it
AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
SINCE = date(2025, 2, 1)
OURS = ("accounts", "notices", "fleet", "compliance", "watch")
OF_NO_STATION = {"Run"}
ALWAYS = {"always": True}
EVERY_50_HOURS = {
    "initial": {"hours": 50, "after": "effective"},
    "repeat": {"hours": 50, "after": "last done"},
}


@dataclass
class Side:
    """One station, its people by role, and what addresses may name."""

    word: str
    station: Station
    people: dict[Role, User] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)
    others: dict[str, str] = field(default_factory=dict)
    # of an engine that is not here any more
    archive: bytes = b""

    def viewer(self, role: Role) -> Viewer:
        return Viewer(user=self.people[role], station=self.station, role=role)


@dataclass
class World:
    own: Side
    foreign: Side
    # signs in, but has left every station
    nobody: User


def build() -> World:
    own, foreign = side("Vesterhall"), side(CANARY)
    Station.objects.filter(pk=foreign.station.pk).update(check_is_open=False)
    end_secrets(foreign.station)
    foreign.names["unsubscribe_token"] += "x"
    gone = MembershipFactory(station=own.station, joined_at=AT)
    logins.leave_station(own.viewer(Role.ADMINISTRATOR), gone, at=AT)
    return World(own=own, foreign=foreign, nobody=gone.user)


def side(word: str) -> Side:
    """Build one station; `word` stands in each of its texts."""
    station = Station.objects.create(
        name=f"{word} engines", check_is_open=True, check_address=word.lower()
    )
    made = Side(word=word, station=station)
    for role in Role:
        made.people[role] = person(made, role)
    grow(made)
    mine = Owner.objects.get(public_id=made.names["owner"])
    add_calendars([made.viewer(role) for role in Role], mine)
    return made


def person(made: Side, role: Role) -> User:
    user = UserFactory(
        name=f"{made.word} {role}", email=f"{role}@{made.word.lower()}.example"
    )
    MembershipFactory(station=made.station, user=user, role=role, joined_at=AT)
    return user


def grow(made: Side, mark: str = "1") -> None:
    """Add a row of everything; a second call with another mark doubles a station."""
    publication = add_notice(made, mark)
    add_oils(made, mark)
    add_intervals(made, mark)
    mine = add_owner(made, f"{made.word} owner {mark}")
    another = add_owner(made, f"{made.word} club {mark}")
    add_logins(made, mine, another, mark)
    engine = add_engine(made, mine, mark)
    other = add_engine(made, another, f"{mark}0")
    publication |= {
        "address": made.station.check_address or "",
        "enquiry": str(add_enquiry(made).public_id),
        "former_owner": str(add_owner(made, f"{made.word} left {mark}").public_id),
        "silenced_owner": str(add_silenced(made, mark).public_id),
    }
    publication |= add_stuck(made.viewer(Role.ADMINISTRATOR), mine, made.word)
    names = {**publication, **add_history(made, engine, publication)}
    names |= add_messages(made.viewer(Role.ADMINISTRATOR), mine, engine, made.word)
    others = {**publication, **add_history(made, other, publication)}
    others |= add_messages(made.viewer(Role.ADMINISTRATOR), another, other, made.word)
    gone = add_engine(made, mine, f"{mark}7")
    made.archive = archive_of(made.viewer(Role.TECHNICIAN), gone, at=AT)
    gone.delete()
    made.names = names | {
        "engine": str(engine.public_id),
        "owner": str(mine.public_id),
        "person": str(made.people[Role.OWNER].public_id),
    }
    made.others = others | {
        "engine": str(other.public_id),
        "owner": str(another.public_id),
        "person": str(made.people[Role.TECHNICIAN].public_id),
    }


def add_owner(made: Side, name: str) -> Owner:
    facts = OwnerFacts(name=name, email=f"post@{made.word.lower()}.example")
    return changes.add_owner(made.viewer(Role.TECHNICIAN), facts, at=AT)


def add_silenced(made: Side, mark: str) -> Owner:
    """An owner who is told nothing, for a reason."""
    owner = add_owner(made, f"{made.word} silent {mark}")
    viewer = made.viewer(Role.ADMINISTRATOR)
    changes.silence_owner(viewer, owner, f"{made.word} asked for it", at=AT)
    return owner


def add_enquiry(made: Side) -> Enquiry:
    entry = changes.EnquiryEntry(
        name=f"{made.word} visitor",
        email=f"visitor@{made.word.lower()}.example",
        message=f"{made.word} asks",
        described={"type": f"{made.word}-1", "entries": [["Type", f"{made.word}-1"]]},
    )
    return changes.leave_enquiry(made.station, entry, at=AT)


def add_logins(made: Side, mine: Owner, another: Owner, mark: str) -> None:
    """One login for each owner; the role's own person signs in for the first."""
    viewer = made.viewer(Role.ADMINISTRATOR)
    user = UserFactory(
        name=f"{made.word} second {mark}", email=f"o{mark}@{made.word.lower()}.example"
    )
    second = MembershipFactory(station=made.station, user=user, role=Role.OWNER)
    first = Membership.objects.of(made.station).get(user=made.people[Role.OWNER])
    logins.link_login(viewer, owner=mine, membership=first, at=AT)
    logins.link_login(viewer, owner=another, membership=second, at=AT)


def add_notice(made: Side, mark: str) -> dict[str, str]:
    """A confirmed bulletin that supersedes an older one with its document; a draft."""
    viewer, word = made.viewer(Role.INSPECTOR), made.word
    old, new = (
        changes.add_publication(
            viewer,
            kind=Kind.BULLETIN,
            number=f"{word}-{stage}-{mark}",
            issuer=f"{word} maker",
            title=f"{word} fuel pump",
            at=AT,
        )
        for stage in ("B", "A")
    )
    older = confirm(made, old, "")
    confirmed = confirm(made, new, old.number)
    with_document = changes.attach_document(
        viewer,
        older,
        content=pdf(f"{word} {mark}"),
        name=f"{word} {mark}.pdf",
        at=AT,
    )
    draft = changes.add_draft(viewer, new, stated(made, "2", ""), at=AT)
    assert with_document.document is not None
    provision = confirmed.provisions.get()
    return {
        "publication": str(new.public_id),
        "revision": str(confirmed.public_id),
        "draft": str(draft.public_id),
        "provision": str(provision.public_id),
        "document": str(with_document.document.public_id),
    }


def add_oils(made: Side, mark: str) -> None:
    """A confirmed letter with a table of oils for every engine."""
    word = made.word
    row = {
        "id": word,
        "grade": f"{word} 100",
        "class": "mineral",
        "ambient": {"from": -20, "to": 40},
        "fuel": ["leaded"],
        "note": f"{word} note",
    }
    table = library.ProvisionInput(
        title=f"{word} grades",
        kind=Provision.Kind.FLUIDS,
        category=Provision.Category.RECOMMENDED,
        fluids=[row],
    )
    add_letter(made, f"{word}-L-{mark}", f"{word} oils", [table])


def add_intervals(made: Side, mark: str) -> None:
    """A confirmed letter with an overhaul interval and one that is within reach."""
    word = made.word
    types = {"type": [f"{word}-{mark}", f"{word}-{mark}0"]}
    base = {"id": word, "kind": "base", "hours": 1500, "since": "overhaul"}
    longer = {**base, "id": f"{word} longer", "kind": "extension", "hours": 1800}
    embodied = {"all": [types, {"embodied": f"{word} 13"}]}
    provisions = [
        library.ProvisionInput(
            title=f"{word} interval",
            kind=Provision.Kind.INTERVAL,
            category=Provision.Category.RECOMMENDED,
            condition=condition,
            interval=interval,
        )
        for condition, interval in ((types, base), (embodied, longer))
    ]
    add_letter(made, f"{word}-I-{mark}", f"{word} overhaul", provisions)


def add_letter(
    made: Side, number: str, title: str, provisions: list[library.ProvisionInput]
) -> None:
    viewer = made.viewer(Role.INSPECTOR)
    letter = changes.add_publication(
        viewer,
        kind=Kind.LETTER,
        number=number,
        issuer=f"{made.word} maker",
        title=title,
        at=AT,
    )
    said = replace(stated(made, "1", ""), provisions=provisions)
    draft = changes.add_draft(viewer, letter, said, at=AT)
    changes.confirm_revision(viewer, draft, version=draft.version, at=AT)


def pdf(text: str) -> bytes:
    """A document of one page with one line."""
    file = io.BytesIO()
    sheet = canvas.Canvas(file, invariant=True)
    sheet.drawString(72, 720, text)
    sheet.save()
    return file.getvalue()


def stated(made: Side, label: str, superseded: str) -> library.RevisionInput:
    references = []
    if superseded:
        supersedes = Reference.Kind.SUPERSEDES
        references = [library.ReferenceInput(kind=supersedes, number=superseded)]
    provision = library.ProvisionInput(
        title=f"{made.word} inspect",
        description=f"{made.word} look for wear",
        category=Provision.Category.RECOMMENDED,
        condition={"any": [ALWAYS, {"ask": f"{made.word} listed?"}]},
        action=EVERY_50_HOURS,
    )
    return library.RevisionInput(
        label=label,
        issued_on=date(2026, 1, 5),
        effective_on=date(2026, 1, 15),
        summary=f"{made.word} first issue",
        applicability=ALWAYS,
        provisions=[provision],
        references=references,
    )


def confirm(made: Side, publication: object, superseded: str) -> Revision:
    viewer = made.viewer(Role.INSPECTOR)
    draft = changes.add_draft(viewer, publication, stated(made, "1", superseded), at=AT)
    return changes.confirm_revision(viewer, draft, version=draft.version, at=AT)


def add_engine(made: Side, owner: Owner, mark: str) -> Engine:
    viewer, word = made.viewer(Role.TECHNICIAN), made.word
    engine_type = changes.add_engine_type(
        viewer,
        TypeFacts(
            designation=f"{word}-{mark}", maker=f"{word} maker", parts={"fuel pump": 1}
        ),
        at=AT,
    )
    new = NewEngine(
        identity=IdentityFacts(
            engine_type=engine_type,
            serial=f"{word}-{mark}",
            built=date(2020, 3, 1),
        ),
        owner=owner,
        fitting=FittingFacts(aircraft_type=f"{word} 2", registration=f"{word}{mark}"),
        operation=OperationFacts(uses=("private",)),
    )
    return changes.add_engine(viewer, new, true_from=SINCE, at=AT)


def add_history(made: Side, engine: Engine, notice: dict[str, str]) -> dict[str, str]:
    """Everything that can be entered about an engine, once."""
    viewer, word = made.viewer(Role.TECHNICIAN), made.word
    revision = Revision.objects.get(public_id=notice["revision"])
    on = date(2026, 3, 1)
    first = changes.start_meter(
        viewer, engine, kind="tachometer", on=on, shown=48_000, remark=word, at=AT
    )
    part = add_part(made, engine)
    known_part = shelve_part(made, engine)
    overhaul = changes.add_overhaul(
        viewer,
        engine,
        on=date(2025, 4, 1),
        hours=40_000,
        done_by=word,
        at=AT,
        tested="to limits",
    )
    event = changes.add_event(viewer, engine, f"{word} check", on=on, at=AT)
    given = FuelEntry(on=on, quantity="40", kind="leaded", remark=word)
    fuel = changes.add_fuel(viewer, engine, given, at=AT)
    changes.embody(viewer, engine, f"{word} 12", true_from=on, source=word, at=AT)
    changes.set_attribute(viewer, engine, word, word, true_from=on, at=AT)
    changes.review(viewer, engine, Review.HISTORY, word, true_from=on, at=AT)
    changes.note_search(
        viewer,
        engine,
        SearchKind.DIRECTIVES,
        searched_to=on,
        source=word,
        person=word,
        at=AT,
    )
    changes.answer(
        viewer, engine, revision, f"{word} listed?", True, true_from=on, at=AT
    )
    changes.approve_alternative(
        viewer,
        engine,
        revision.provisions.get(),
        changes.AlternativeEntry(
            reference=word,
            approved_by=word,
            approved_on=on,
            description=word,
            times={},
        ),
        at=AT,
    )
    changes.decline(
        viewer,
        engine,
        revision.publication,
        person=word,
        reason=word,
        true_from=on,
        at=AT,
    )
    record = changes.record_work(
        viewer,
        engine,
        entry(
            on,
            hours=48_000,
            provision=revision.provisions.get(),
            description=word,
            attachments=(Upload(f"{word}.pdf", pdf(word)),),
        ),
        at=AT,
    )
    finding = Finding.objects.get(engine=engine, provision__revision=revision)
    return {
        "reading": str(first.public_id),
        "meter": str(first.meter.public_id),
        "engine_type": str(engine.engine_type.public_id),
        "part": str(part.public_id),
        "known_part": str(known_part.public_id),
        "sheet": str(upload_sheet(made, engine).public_id),
        "overhaul": str(overhaul.public_id),
        "event": str(event.public_id),
        "fuel": str(fuel.public_id),
        "record": str(record.public_id),
        "file": str(record.attachments.get().public_id),
        "finding": str(finding.public_id),
    }


def add_part(made: Side, engine: Engine) -> Part:
    """A part of its own for each engine."""
    return changes.add_part(
        made.viewer(Role.TECHNICIAN),
        engine,
        PartEntry(role="fuel pump", number=f"{made.word} P-8801", serial=engine.serial),
        Fit(engine_hours=48_000, hours_new=0),
        true_from=date(2026, 3, 1),
        at=AT,
    )


def shelve_part(made: Side, engine: Engine) -> Part:
    """A part that was on the engine and has been taken off."""
    viewer, on = made.viewer(Role.TECHNICIAN), date(2026, 2, 1)
    entry = PartEntry(role="starter", number=f"{made.word} P-1", serial=engine.serial)
    part = changes.add_part(viewer, engine, entry, Fit(), true_from=on, at=AT)
    changes.remove_part(
        viewer, engine, part, true_from=date(2026, 3, 1), reason=made.word, at=AT
    )
    return part


def upload_sheet(made: Side, engine: Engine) -> WaitingSheet:
    """A sheet with a good row and a bad one, not imported yet."""
    content = (
        f"type,serial,date of manufacture\n{engine.engine_type},{made.word}-77,2021-02-03\n"
        f"{engine.engine_type},{made.word}-78,2021-02-30\n"
    )
    viewer, name = made.viewer(Role.TECHNICIAN), f"{made.word}.csv"
    return changes.upload_sheet(viewer, SheetKind.FLEET, content.encode(), name, at=AT)


def our_models() -> list[type[models.Model]]:
    models = (m for app in OURS for m in apps.get_app_config(app).get_models())
    return [model for model in models if model.__name__ not in OF_NO_STATION]


def path_to_station(model: type[models.Model]) -> str:
    """The shortest way along foreign keys from a model to the station that owns it."""
    if model is Station:
        return "pk"
    if model is User:
        return "memberships__station"
    frontier: list[tuple[str, type[models.Model]]] = [("", model)]
    while frontier:
        path, here = frontier.pop(0)
        for key, target in _foreign_keys(here):
            if target is Station:
                return f"{path}{key}"
            if len(path) < 60 and target is not User:
                frontier.append((f"{path}{key}__", target))
    raise AssertionError(f"{model.__name__} belongs to no station")


def _foreign_keys(
    model: type[models.Model],
) -> Iterator[tuple[str, type[models.Model]]]:
    for one in model._meta.get_fields():
        if isinstance(one, models.ForeignKey) and one.related_model is not model:
            yield one.name, one.related_model


__all__ = ["CANARY", "PASSWORD", "Side", "World", "build", "grow", "our_models"]
