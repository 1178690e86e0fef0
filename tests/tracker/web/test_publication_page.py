"""Publications: the list, what one says, whom it affects, its revisions and document."""

from __future__ import annotations

from datetime import date
from uuid import uuid4

import pytest
from django.urls import reverse

from notices import documents
from notices.models import Kind, Publication, Reference
from tests.factories.fleet import EngineTypeFactory, OwnerFactory
from tests.factories.notices import (
    PublicationFactory,
    RevisionFactory,
)
from tests.tracker.web.reading import rows_of, words_of
from tracker.accounts.models import Role
from tracker.fleet.register import give_login

LIST = reverse("web:publication-list")
ASKS = {"ask": "Is the case stamped R?"}
PDF = b"%PDF-1.4\ntrailer\n%%EOF\n"


def within(hours: float) -> dict:
    return {"initial": {"hours": hours, "after": "effective"}}


def at(name: str, publication: Publication) -> str:
    return reverse(f"web:{name}", args=[publication.public_id])


def test_a_publication_stands_with_its_revision_and_whom_it_concerns(
    page, make_engine, make_provision
) -> None:
    make_provision(number="SB-24-011", rule__condition=ASKS)
    make_provision(number="SB-24-012")
    make_engine()
    make_engine()
    _, undetermined, applies = rows_of(page.get(LIST))
    assert undetermined.startswith("SB-24-011 Inspect the fuel pump")
    assert undetermined.endswith("0 2")
    assert applies.endswith("2 0")


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({"q": "sb 24 011"}, ["SB-24-011"]),
        ({"q": "breather"}, ["AD X-26-014"]),
        ({"q": "coupling"}, ["SB-24-011"]),
        ({"kind": "AD"}, ["AD X-26-014"]),
        ({"kind": "nonsense"}, ["AD X-26-014", "SB-24-011"]),
        ({"state": "draft"}, ["SB-24-011"]),
        ({"state": "current"}, ["AD X-26-014"]),
        ({"state": "none"}, ["SB-24-011"]),
    ],
)
def test_publications_are_found_by_words_kind_and_state(
    page, station, make_provision, asked: dict, found: list[str]
) -> None:
    directive = PublicationFactory(
        station=station, kind=Kind.DIRECTIVE, number="AD X-26-014", title="Breather"
    )
    RevisionFactory(publication=directive, confirmed=True)
    bulletin = PublicationFactory(station=station, number="SB-24-011")
    draft = RevisionFactory(publication=bulletin)
    draft.document = documents.store(
        PDF, name="a.pdf", station=station, by=draft.entered_by, at=draft.entered_at
    )
    draft.document.text = "the steel coupling"
    draft.document.save()
    draft.save()
    rows = rows_of(page.get(LIST, asked))[1:]
    numbers = [n for n in ("AD X-26-014", "SB-24-011") if any(n in r for r in rows)]
    assert numbers == found


def test_nothing_found_and_nothing_there_are_told_apart(page, station) -> None:
    assert "No publication is in the library yet." in words_of(page.get(LIST))
    PublicationFactory(station=station)
    assert "No publication is like that." in words_of(page.get(LIST, {"q": "zzz"}))


def test_what_it_says_stands_in_plain_sentences(page, make_provision) -> None:
    provision = make_provision(
        title="Replace the diaphragm",
        rule__action={**within(50), "repeat": {"months": 12, "after": "last done"}},
        rule__condition={"serial": ["4001..4987"]},
        man_hours=200,
        embodies=["MOD-41"],
    )
    response = page.get(at("publication", provision.revision.publication))
    text = words_of(response)
    assert "Every engine." in text
    [row] = [row for row in rows_of(response) if "Replace the diaphragm" in row]
    assert "Only where: Serial number is from 4001 to 4987." in row
    assert "Due within 50 h after the effective date." in row
    assert "Then again within 12 months after it was last done." in row
    assert "About 2.0 h of work." in row
    assert "embodies MOD-41" in row


def test_affected_engines_stand_with_state_and_reason_undetermined_first(
    page, station, make_engine, make_provision
) -> None:
    known = EngineTypeFactory(station=station, designation="MX-88")
    provision = make_provision(
        rule__action=within(39),
        rule__condition={"any": [{"type": ["MX-88"]}, ASKS]},
    )
    sure = make_engine(engine_type=known)
    unsure = make_engine()
    response = page.get(at("publication", provision.revision.publication))
    rows = [row for row in rows_of(response) if "Person" not in row and " · " in row]
    assert unsure.serial in rows[0]
    assert rows[0].startswith("undetermined")
    assert "Missing: the answer to the question: Is the case stamped R?" in rows[0]
    assert sure.serial in rows[1]
    assert rows[1].startswith("overdue")
    assert rows[1].endswith("519.0 h −1.0 h")
    text = words_of(response)
    assert "concerns 1 engine, and may concern 1 more." in text


def test_what_is_missing_is_said_also_where_it_may_be_due_before_further_flight(
    page, make_engine, make_provision
) -> None:
    provision = make_provision(
        rule__condition=ASKS, rule__action={"initial": {"event": "further flight"}}
    )
    make_engine()
    response = page.get(at("publication", provision.revision.publication))
    [row] = [row for row in rows_of(response) if row.startswith("before further")]
    assert "Missing: the answer to the question: Is the case stamped R?" in row
    assert row.startswith("before further flight if it applies")
    assert "?." not in row


def test_engines_that_are_not_concerned_stand_on_a_page_with_the_reason(
    page, make_engine, make_provision
) -> None:
    provision = make_provision(rule__condition={"serial": ["1"]})
    make_engine(serial="4711")
    publication = provision.revision.publication
    assert "concerns none of 1 engines" in words_of(
        page.get(at("publication", publication))
    )
    [_, row] = rows_of(page.get(at("publication-not-affected", publication)))
    assert row.startswith("does not apply")
    assert "Serial number 4711 is not 1." in row


def test_the_revisions_stand_with_what_each_is(page, station) -> None:
    publication = PublicationFactory(station=station)
    for sequence, day in ((1, 2025), (2, 2026), (3, 2027)):
        RevisionFactory(
            publication=publication,
            confirmed=True,
            label=f"R{sequence}",
            sequence=sequence,
            effective_on=date(day, 1, 15),
        )
    RevisionFactory(publication=publication, label="R4", sequence=4)
    response = page.get(at("publication", publication))
    rows = [row for row in rows_of(response) if row.startswith("revision R")]
    assert [row.split()[2] for row in rows] == [
        "draft",
        "confirmed,",
        "current",
        "superseded",
    ]
    text = words_of(response)
    assert "Revision R4 is a draft that waits to be confirmed." in text
    assert "Revision R3 takes over on 15 January 2027." in text


def test_a_publication_without_a_current_revision_says_so(page, station) -> None:
    publication = PublicationFactory(station=station)
    text = words_of(page.get(at("publication", publication)))
    assert "No revision of it is in force today" in text
    assert "No revision has been entered yet." in text
    RevisionFactory(publication=publication)
    assert "Only a confirmed, current revision" in words_of(
        page.get(at("publication", publication))
    )
    assert page.get(at("publication-not-affected", publication)).status_code == 404


def test_the_serials_of_each_revision_stand_on_one_strip(
    page, station, make_engine, make_provision
) -> None:
    publication = PublicationFactory(station=station)
    for sequence, serials in ((1, "4001..4987"), (2, "4001..5420")):
        revision = RevisionFactory(
            publication=publication,
            confirmed=True,
            sequence=sequence,
            effective_on=date(2026, 1, sequence),
            applicability={"serial": [serials]},
        )
    make_provision(revision=revision)
    make_engine(serial="5100")
    response = page.get(at("publication", publication))
    assert "Serial numbers covered by each revision." in words_of(response)
    drawn = response.content.decode()
    assert "superseded: 4001 to 4987." in drawn
    assert "current: 4001 to 5420." in drawn
    assert "Our engines: 5100 undetermined." in drawn


def test_references_lead_both_ways(page, station) -> None:
    newer = RevisionFactory(
        publication=PublicationFactory(station=station, number="AD X-2"), confirmed=True
    )
    older = RevisionFactory(
        publication=PublicationFactory(station=station, number="AD X-1"), confirmed=True
    )
    for number, publication in (("AD X-1", older.publication), ("SB-9", None)):
        Reference.objects.create(
            revision=newer,
            kind=Reference.Kind.SUPERSEDES,
            number=number,
            number_key=number,
            publication=publication,
        )
    text = words_of(page.get(at("publication", newer.publication)))
    assert "Supersedes AD X-1, Inspect the fuel pump." in text
    assert "Supersedes SB-9, which is not in the library." in text
    back = words_of(page.get(at("publication", older.publication)))
    assert f"AD X-2 revision {newer.label} supersedes this publication." in back


def test_the_document_is_given_out_as_it_was_taken_in(
    page, station, settings, tmp_path
) -> None:
    settings.DOCUMENT_DIR = tmp_path
    revision = RevisionFactory(publication=PublicationFactory(station=station))
    revision.document = documents.store(
        PDF,
        name="a.pdf",
        station=station,
        by=revision.entered_by,
        at=revision.entered_at,
    )
    revision.save()
    text = words_of(page.get(at("publication", revision.publication)))
    assert "text not read yet" in text
    address = reverse("web:publication-document", args=[revision.document.public_id])
    response = page.get(address)
    assert response.content == PDF
    assert response["Content-Disposition"] == 'attachment; filename="a.pdf"'
    next(tmp_path.rglob("*.pdf")).unlink()
    lost = page.get(address)
    assert lost.status_code == 404
    assert "Restore it from the backup" in lost.content.decode()


def test_one_revision_has_a_page_of_its_own(page, station) -> None:
    revision = RevisionFactory(
        publication=PublicationFactory(station=station), label="7", applicability={}
    )
    text = words_of(
        page.get(reverse("web:publication-revision", args=[revision.public_id]))
    )
    assert "Revision 7" in text
    assert "it makes no findings until it is confirmed" in text
    assert "Whom it is about has not been stated yet." in text


def test_what_is_foreign_or_not_there_is_not_found(page, other_station) -> None:
    revision = RevisionFactory(publication=PublicationFactory(station=other_station))
    publication = revision.publication
    assert page.get(at("publication", publication)).status_code == 404
    assert page.get(at("publication-not-affected", publication)).status_code == 404
    for name, public_id in (
        ("publication", uuid4()),
        ("publication-revision", revision.public_id),
        ("publication-document", uuid4()),
    ):
        address = reverse(f"web:{name}", args=[public_id])
        assert page.get(address).status_code == 404


def test_an_owner_sees_the_library_with_own_engines_only(
    viewer_as, signed_in, station, make_engine, make_provision, now, clock_stands
) -> None:
    viewer = viewer_as(Role.OWNER)
    owner = OwnerFactory(station=station)
    give_login(owner, viewer.user, now)
    provision = make_provision(rule__action=within(39))
    mine, other = make_engine(owner=owner, serial="7001"), make_engine(serial="7002")
    response = signed_in(viewer).get(at("publication", provision.revision.publication))
    assert mine.serial in words_of(response)
    assert other.serial not in response.content.decode()


def test_an_owner_sees_no_draft(
    viewer_as, signed_in, station, make_provision, clock_stands
) -> None:
    owner = signed_in(viewer_as(Role.OWNER))
    publication = make_provision(rule__action=within(39)).revision.publication
    draft = RevisionFactory(publication=publication, summary="An advance copy.")
    address = reverse("web:publication-revision", args=[draft.public_id])
    assert owner.get(address).status_code == 404
    page = owner.get(at("publication", publication)).content.decode()
    assert "An advance copy." not in page
    assert str(draft.public_id) not in page


def test_an_owner_is_not_told_of_drafts_in_the_list(
    viewer_as, signed_in, page, station, make_provision
) -> None:
    owner = signed_in(viewer_as(Role.OWNER))
    publication = make_provision(rule__action=within(39)).revision.publication
    draft = RevisionFactory(publication=publication, label="R2")
    draft.document = documents.store(
        PDF, name="a.pdf", station=station, by=draft.entered_by, at=draft.entered_at
    )
    draft.document.text = "the steel coupling"
    draft.document.save()
    draft.save()
    assert "draft R2 waits" in words_of(page.get(LIST))
    assert publication.number in words_of(page.get(LIST, {"q": "coupling"}))
    seen = words_of(owner.get(LIST, {"state": "draft"}))
    assert publication.number in seen
    assert "draft" not in seen
    assert "No publication is like that." in words_of(
        owner.get(LIST, {"q": "coupling"})
    )


@pytest.mark.parametrize("publications", [1, 20])
def test_the_list_asks_as_often_for_many_publications(
    page, make_engine, make_provision, django_assert_num_queries, publications: int
) -> None:
    for _ in range(publications):
        make_provision()
    make_engine()
    # session, user, membership; publications counted; publications; affected engines
    with django_assert_num_queries(6):
        page.get(LIST)


@pytest.mark.parametrize("engines", [1, 20])
def test_one_publication_asks_as_often_for_many_engines(
    page, make_engine, make_provision, django_assert_num_queries, engines: int
) -> None:
    provision = make_provision(rule__action=within(39))
    for _ in range(engines):
        make_engine()
    # session, user, membership; publication; standings (2), revisions; references, rules;
    # named by; affected: counted, rows; outcomes, all engines
    with django_assert_num_queries(14):
        page.get(at("publication", provision.revision.publication))


def test_a_revision_without_an_effective_date_holds_from_its_issue(
    page, station
) -> None:
    publication = PublicationFactory(station=station)
    revision = RevisionFactory(
        publication=publication, confirmed=True, effective_on=None
    )
    at_revision = reverse("web:publication-revision", args=[revision.public_id])
    assert "Effective from its issue date" in words_of(page.get(at_revision))
    assert "from its issue date" in words_of(page.get(at("publication", publication)))


def test_the_numbers_that_rules_ask_for_are_told_and_which_of_them_are_known(
    page, station, make_provision
) -> None:
    PublicationFactory(station=station, number="SB-24-011")
    provision = make_provision(
        number="SI-18-001",
        rule__condition={
            "all": [{"complied": "sb 24 011"}, {"not": {"embodied": "M 7"}}]
        },
        rule__action={
            **within(50),
            "credit": {"of": ["SB-9"]},
            "ends_with": ["SB-24-011", {"complied": "SB-10"}],
        },
    )
    shown = words_of(page.get(at("publication", provision.revision.publication)))
    assert (
        "Its rules ask what was done under sb 24 011 ; M 7, which is not in the library; "
        "SB-10, which is not in the library; SB-9, which is not in the library."
        in shown
    )
    assert "It names no other publication" not in shown
