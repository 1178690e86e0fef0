"""Publications: added once, found again, and linked with what named them before."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import pytest

from notices.library import (
    ReferenceInput,
    RevisionInput,
    add_draft,
    add_publication,
    change_publication,
)
from notices.models import Kind, Publication
from notices.rules.errors import RuleError
from tests.factories.accounts import UserFactory
from tests.factories.notices import (
    DocumentFactory,
    PublicationFactory,
    RevisionFactory,
)
from tracker.accounts.models import Station

ON = date(2026, 6, 1)


@pytest.fixture
def add(station: Station, now: datetime) -> Any:
    def make(number: str = "SB-24-011", **more: Any) -> Publication:
        said = {"kind": "SB", "issuer": "Maker", "title": "Fuel pump", **more}
        return add_publication(
            **{"station": station, "number": number, "at": now, **said}
        )

    return make


def faults_of(refused: pytest.ExceptionInfo[RuleError]) -> dict[str, str]:
    return {fault.path: fault.message for fault in refused.value.faults}


def test_a_publication_keeps_its_number_as_printed(add: Any, now: datetime) -> None:
    publication = add(" SB  24-011 ")
    assert publication.number == "SB 24-011"
    assert publication.created_at == now
    assert str(publication) == "SB 24-011"


@pytest.mark.both
@pytest.mark.parametrize("again", ["SB-24-011", "sb 24 011", "SB\u201124\u2013011"])
def test_a_number_is_in_the_library_once_however_it_is_written(
    add: Any, again: str
) -> None:
    add("SB-24-011")
    with pytest.raises(RuleError) as refused:
        add(again)
    assert faults_of(refused) == {
        "number": '"SB-24-011" is in the library already: Fuel pump. '
        "Add a revision to it, or write another number."
    }
    assert Publication.objects.count() == 1


def test_another_station_may_have_the_same_number(
    add: Any, other_station: Station
) -> None:
    mine, theirs = add(), add(station=other_station)
    assert list(Publication.objects.for_station(other_station)) == [theirs]
    assert mine != theirs


def test_every_fault_of_an_entry_is_named_together(add: Any) -> None:
    with pytest.raises(RuleError) as refused:
        add(" - ", kind="XY", issuer="", title="x" * 201)
    assert set(faults_of(refused)) == {"number", "kind", "issuer", "title"}
    assert "201" in faults_of(refused)["title"]
    assert not Publication.objects.exists()


def test_control_characters_are_refused(add: Any) -> None:
    with pytest.raises(RuleError, match="title: Contains a control character"):
        add(title="Fuel\x00pump")


def test_a_number_named_before_is_linked_when_its_publication_is_added(
    add: Any, now: datetime, other_station: Station
) -> None:
    newer = add("SB-24-020")
    draft = add_draft(
        publication=newer,
        stated=RevisionInput(
            label="1",
            references=[
                ReferenceInput(kind="supersedes", number="SB 24-011"),
                ReferenceInput(kind="refers to", number="SB-24-020"),
            ],
        ),
        by=UserFactory(),
        at=now,
    )
    linked = dict(draft.references.values_list("kind", "publication"))
    assert linked == {"supersedes": None, "refers to": newer.pk}
    add("SB-24-011", station=other_station)
    assert draft.references.get(kind="supersedes").publication is None
    older = add("SB-24-011")
    assert draft.references.get(kind="supersedes").publication == older


def test_a_changed_number_is_linked_anew(add: Any, now: datetime) -> None:
    wrong = add("SB-24-110")
    draft = add_draft(
        publication=add("SB-24-020"),
        stated=RevisionInput(
            label="1",
            references=[
                ReferenceInput(kind="supersedes", number="SB-24-011"),
                ReferenceInput(kind="refers to", number="SB-24-110"),
            ],
        ),
        by=UserFactory(),
        at=now,
    )
    changed = change_publication(
        wrong, kind="AD", number="SB-24-011", issuer="Maker", title="Fuel pump"
    )
    assert changed.kind == Kind.DIRECTIVE
    linked = dict(draft.references.values_list("kind", "publication"))
    assert linked == {"supersedes": wrong.pk, "refers to": None}


def test_a_number_cannot_be_changed_to_one_in_the_library(add: Any) -> None:
    add("SB-24-011")
    other = add("SB-24-012")
    with pytest.raises(RuleError, match='number: "SB-24-011" is in the library'):
        change_publication(
            other, kind="SB", number="sb24011", issuer="Maker", title="Pump"
        )
    other.refresh_from_db()
    assert other.number == "SB-24-012"


@pytest.mark.both
@pytest.mark.django_db
@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("24-011", {"SB-24-011"}),
        ("sb24011", {"SB-24-011"}),
        ("FUEL pump", {"SB-24-011"}),
        ("Merle", {"SB-24-011", "AD-7"}),
        # Words of the document, over the end of a line, and with another dash.
        ("gasket S/N 4001\u20134987", {"AD-7"}),
        ("gasket nowhere", set()),
        ("100%", set()),
        ("  ", {"SB-24-011", "AD-7"}),
    ],
)
def test_publications_are_found_by_number_title_issuer_and_text(
    station: Station, text: str, found: set[str]
) -> None:
    PublicationFactory(
        station=station, number="SB-24-011", issuer="Merle", title="Fuel pump"
    )
    directive = PublicationFactory(
        station=station, number="AD-7", issuer="Merle", title="Crankcase", kind="AD"
    )
    said = "Replace the gasket on engines\nS/N 4001-4987 of 100 h."
    for _ in range(2):
        RevisionFactory(publication=directive, document=DocumentFactory(text=said))
    rows = Publication.objects.for_station(station).search(text, in_drafts=True)
    assert sorted(row.number for row in rows) == sorted(found)


def test_a_list_says_what_is_current_and_what_waits(
    station: Station, django_assert_num_queries: Any
) -> None:
    for _ in range(3):
        publication = PublicationFactory(station=station)
        RevisionFactory(publication=publication, label="A", confirmed=True)
        RevisionFactory(publication=publication, label="B")
    PublicationFactory(station=station, number="Z-1")
    with django_assert_num_queries(1):  # publications, all else inside
        rows = list(Publication.objects.for_station(station).for_list(ON))
    said = [(row.current_label, row.draft_label) for row in rows]
    assert said == [("A", "B")] * 3 + [(None, None)]
    assert list(Publication.objects.of_kind("AD")) == []
    assert Publication.objects.numbered("z 1").get().number == "Z-1"
