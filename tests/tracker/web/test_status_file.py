"""The status as a file: the same words in the same order as on the page, for one or many."""

from __future__ import annotations

import io
from datetime import UTC, date, datetime

import pytest
import time_machine
from django.urls import reverse
from pypdf import PdfReader

from tests.factories.compliance import entry
from tests.factories.fleet import OwnerFactory
from tests.tracker.print.sheets import bare, text_by_pypdf, words_of_item
from tests.tracker.web.reading import words_of
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.compliance.facts.rows import QUERIES
from tracker.compliance.summary import status_of
from tracker.fleet.models import Engine
from tracker.fleet.register import FittingFacts, give_login
from tracker.print.status_sheet import sheet_of

ASKS = {"ask": "Is the case stamped R?"}
TWICE = {
    "initial": {"hours": 50, "after": "effective"},
    "repeat": {"hours": 100, "after": "last done"},
}


def page_of(engine) -> str:
    return reverse("web:engine-status", args=[engine.public_id])


def file_of(engine) -> str:
    return reverse("web:engine-status-pdf", args=[engine.public_id])


def text_of(response) -> str:
    assert response.status_code == 200, response.content
    return text_by_pypdf(response.content)


@pytest.fixture
def whole(technician, make_engine, make_provision, now):
    """An engine with a line of every section."""
    done = make_provision(kind="AD", number="AD X-26-014", rule__action=TWICE)
    make_provision(kind="SB", number="SB-901", rule__condition=ASKS)
    make_provision(kind="SB", number="SB-902", rule__condition={"serial": ["1"]})
    make_provision(kind="SI", number="SI-903", title="Grease the bearing")
    left = make_provision(kind="SL", number="SL-904", title="Use another grade")
    engine = make_engine(
        fitting=FittingFacts(
            fitted=True, aircraft_type="TR-24", registration="ZZ-RHO", position="left"
        )
    )
    made = entry(date(2026, 11, 20), hours=51_000, provision=done)
    changes.record_work(technician, engine, made, at=now)
    changes.decline(
        technician,
        engine,
        left.revision.publication,
        person="P. Aldermoor",
        reason="no need",
        true_from=date(2026, 11, 1),
        at=now,
    )
    changes.refresh_station(technician.station, now.date(), at=now)
    return engine


def test_the_file_is_a_pdf_that_a_browser_shows_under_a_name(page, whole) -> None:
    response = page.get(file_of(whole))
    assert response["Content-Type"] == "application/pdf"
    name = f"compliance-status-of-{whole.engine_type.designation.lower()}-serial"
    shown = response["Content-Disposition"]
    assert shown.startswith(f'inline; filename="{name}-')
    assert shown.endswith('-2026-11-24.pdf"')
    assert response.content.startswith(b"%PDF-1.7")


def test_page_and_file_have_the_same_items_in_the_same_order(page, whole) -> None:
    status = status_of(whole, on=date(2026, 11, 24))
    sheet = sheet_of(status, made_at=datetime(2026, 11, 24, tzinfo=UTC), zone="UTC")
    items = list(sheet.items())
    assert [one.number for one in items] == ["SB-901", "AD X-26-014", "SI-903"]
    on_page, in_file = (
        bare(words_of(page.get(page_of(whole)))),
        text_of(page.get(file_of(whole))),
    )
    for text in (on_page, in_file):
        places = [text.index(bare(f"{one.number}{one.revision}")) for one in items]
        assert places == sorted(places)
        for one in items:
            for word in words_of_item(one):
                assert bare(word) in text, word


def test_page_and_file_have_the_same_parts_in_the_same_order(page, whole) -> None:
    status = status_of(whole, on=date(2026, 11, 24))
    sheet = sheet_of(status, made_at=datetime(2026, 11, 24, tzinfo=UTC), zone="UTC")
    on_page, in_file = (
        bare(words_of(page.get(page_of(whole)))),
        text_of(page.get(file_of(whole))),
    )
    for text in (on_page, in_file):
        at = text.index(bare("History reviewed"))  # behind what leads to the parts
        for section in sheet.sections:
            at = text.index(bare(f"{section.heading} {section.note}"), at)
            for said in section.says:
                assert bare(said) in text[at:]
            for row in section.table.rows if section.table else ():
                assert all(bare(cell) in text[at:] for cell in row)
            for one in section.reasons:
                assert bare(f"{one.number} {one.about}: {one.why}") in text[at:]
        for fact in sheet.facts:
            assert bare(f"{fact.name} {fact.value}") in text


def test_the_day_and_the_knowledge_asked_for_carry_over(page, whole) -> None:
    asked = {"on": "2026-11-22", "known": "then"}
    then = text_of(page.get(file_of(whole), asked))
    since = text_of(page.get(file_of(whole), {**asked, "known": "now"}))
    assert (
        bare("As of 22 November 2026, as it was known at the end of that day.") in then
    )
    assert bare("with all that is known on 24 November 2026.") in since
    assert bare("20 Nov 2026") not in then
    assert bare("20 Nov 2026") in since
    links = page.get(page_of(whole), asked).content.decode()
    assert f'href="{file_of(whole)}?on=2026-11-22&amp;known=then"' in links
    assert f"{file_of(whole)}?on=2026-11-22&amp;known=then&amp;paper=letter" in links


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ({"on": "yesterday"}, "“yesterday” is not a day. Write it as 2026-05-31."),
        ({"on": "2026-11-25"}, "can be asked for today or a day before it"),
        ({"known": "later"}, "Known is either then or now."),
        ({"paper": "A5"}, "Paper is either A4 or letter."),
    ],
)
def test_nonsense_is_named_on_the_page_and_no_file_is_made(
    page, whole, asked: dict, message: str
) -> None:
    several = reverse("web:aircraft-status-pdf", args=[whole.public_id])
    for address in (file_of(whole), several):
        response = page.get(address, asked)
        assert response.status_code == 422
        assert response["Content-Type"].startswith("text/html")
        assert message in response.content.decode()


def test_a_day_before_the_engine_was_made_is_said_in_both(page, whole) -> None:
    asked = {"on": "2019-05-01", "known": "now"}
    said = "There was no such engine on 1 May 2019: it was made on 1 March 2020."
    assert said in words_of(page.get(page_of(whole), asked))
    assert bare(said) in text_of(page.get(file_of(whole), asked))


def test_the_pages_lead_to_file_aircraft_and_owner(
    page, signed_in, viewer_as, whole, station, technician, now
) -> None:
    """An owner is led to their own engines, and not to those of who sold it to them."""
    looks = viewer_as(Role.OWNER)
    seller = OwnerFactory(station=station)
    buyer = OwnerFactory(station=station)
    give_login(buyer, looks.user, now)
    for owner, since in ((seller, date(2026, 3, 1)), (buyer, date(2026, 11, 20))):
        changes.change_owner(technician, whole, owner, true_from=since, at=now)

    def leads(client, route: str, key: object, **asked: str) -> bool:
        shown = client.get(page_of(whole), asked).content.decode()
        return f'href="{reverse(route, args=[key])}?' in shown

    theirs = signed_in(looks)
    for client in (page, theirs):
        assert leads(client, "web:engine-status-pdf", whole.public_id)
        assert leads(client, "web:aircraft-status", whole.public_id)
        assert leads(client, "web:owner-status", buyer.public_id)
    past = {"on": "2026-11-10", "known": "now"}
    assert leads(page, "web:owner-status", seller.public_id, **past)
    assert not leads(theirs, "web:owner-status", seller.public_id, **past)


def test_it_is_made_for_the_paper_asked_for(page, whole) -> None:
    letter = page.get(file_of(whole), {"paper": "letter"}).content
    assert PdfReader(io.BytesIO(letter)).pages[0].mediabox.width == 792
    assert PdfReader(io.BytesIO(page.get(file_of(whole)).content)).pages[
        0
    ].mediabox.width == pytest.approx(841.89, abs=0.01)


def test_the_same_moment_gives_the_same_bytes(page, whole) -> None:
    assert page.get(file_of(whole)).content == page.get(file_of(whole)).content


def test_an_owner_reads_the_time_in_their_own_zone(
    signed_in, viewer_as, whole, station, technician, now
) -> None:
    looks = viewer_as(Role.OWNER)
    owner = OwnerFactory(station=station, name="L. Tamsin", time_zone="Asia/Tokyo")
    give_login(owner, looks.user, now)
    changes.change_owner(technician, whole, owner, true_from=date(2026, 11, 1), at=now)
    with time_machine.travel(now, tick=False):
        theirs = text_of(signed_in(looks).get(file_of(whole)))
        ours = text_of(signed_in(technician).get(file_of(whole)))
    assert bare("Computed on 24 November 2026 at 18:30 (Asia/Tokyo)") in theirs
    assert bare("Computed on 24 November 2026 at 09:30 (UTC)") in ours


@pytest.mark.parametrize("provisions", [1, 20])
def test_a_file_asks_as_often_for_many_provisions(
    page, make_engine, make_provision, django_assert_num_queries, provisions: int
) -> None:
    for _ in range(provisions):
        make_provision()
    engine = make_engine()
    # session, user, membership; engine; facts of an engine without parts; rules;
    # revisions that are current; head of the chain; owner on that day
    with django_assert_num_queries(4 + QUERIES - 3 + 4):
        page.get(file_of(engine))


class TestTogether:
    """All engines of an owner, and all engines of an aircraft."""

    @pytest.fixture
    def owner(self, station):
        return OwnerFactory(station=station, name="Brackwater Flying Group")

    @pytest.fixture
    def engines(self, make_engine, make_provision, owner) -> list[Engine]:
        """Two of one aircraft and one of another, the last of another owner."""
        make_provision(kind="AD", number="AD X-26-014")

        def fitted(registration: str, position: str = "") -> FittingFacts:
            return FittingFacts(
                aircraft_type="TR-24", registration=registration, position=position
            )

        return [
            make_engine(serial="5002", owner=owner, fitting=fitted("ZZ-RHO", "right")),
            make_engine(serial="5001", owner=owner, fitting=fitted("ZZ RHO", "left")),
            make_engine(serial="5003", fitting=fitted("ZZ-PHI")),
        ]

    def test_a_page_lists_the_engines_of_an_owner(self, page, engines, owner) -> None:
        text = words_of(page.get(reverse("web:owner-status", args=[owner.public_id])))
        assert "Compliance status of the engines of Brackwater Flying Group" in text
        assert "serial 5001" in text
        assert "serial 5002" in text
        assert "serial 5003" not in text

    def test_a_file_has_a_first_page_and_each_engine_on_pages_of_its_own(
        self, page, engines, owner
    ) -> None:
        address = reverse("web:owner-status-pdf", args=[owner.public_id])
        pages = PdfReader(io.BytesIO(page.get(address).content)).pages
        texts = [bare(sheet.extract_text()) for sheet in pages]
        assert bare("status of the engines of Brackwater Flying Group") in texts[0]
        begins = [n for n, text in enumerate(texts) if bare("Maker Halvorsen") in text]
        assert len(begins) == 2
        for engine in engines[:2]:
            title = bare(f"Compliance status of {engine}")
            assert sum(title in text for text in texts) == 1

    def test_the_engines_of_an_aircraft_stand_by_position(self, page, engines) -> None:
        """However the registration is written."""
        address = reverse("web:aircraft-status", args=[engines[0].public_id])
        text = words_of(page.get(address))
        assert "Compliance status of the engines of ZZ-RHO" in text
        assert text.index("serial 5001") < text.index("serial 5002")
        assert "serial 5003" not in text
        file = reverse("web:aircraft-status-pdf", args=[engines[0].public_id])
        printed = text_of(page.get(file))
        assert printed.index("serial5001") < printed.index("serial5002")

    def test_an_engine_that_was_moved_is_listed_where_it_was_that_day(
        self, page, engines, technician, now
    ) -> None:
        changes.fit_in_aircraft(
            technician,
            engines[1],
            FittingFacts(aircraft_type="TR-24", registration="ZZ-PHI"),
            true_from=date(2026, 11, 10),
            at=now,
        )
        address = reverse("web:aircraft-status", args=[engines[0].public_id])
        assert "serial 5001" not in words_of(page.get(address))
        past = {"on": "2026-11-09", "known": "now"}
        assert "serial 5001" in words_of(page.get(address, past))

    def test_an_engine_that_was_sold_is_listed_under_who_owned_it_that_day(
        self, page, engines, owner, station, technician, now
    ) -> None:
        buyer = OwnerFactory(station=station, name="Saltmere School")
        changes.change_owner(
            technician, engines[0], buyer, true_from=date(2026, 11, 10), at=now
        )
        past = {"on": "2026-11-09", "known": "now"}
        for whose, today, before in ((owner, False, True), (buyer, True, False)):
            address = reverse("web:owner-status", args=[whose.public_id])
            assert ("serial 5002" in words_of(page.get(address))) is today
            assert ("serial 5002" in words_of(page.get(address, past))) is before

    def test_an_engine_in_no_aircraft_stands_alone(
        self, page, engines, make_engine
    ) -> None:
        shelf = make_engine(serial="5009")
        text = words_of(
            page.get(reverse("web:aircraft-status", args=[shelf.public_id]))
        )
        assert "serial 5009" in text
        assert "serial 500" not in text.replace("serial 5009", "")

    def test_an_owner_without_an_engine_gets_a_page_that_says_so(
        self, page, station
    ) -> None:
        nobody = OwnerFactory(station=station)
        for route in ("web:owner-status", "web:owner-status-pdf"):
            response = page.get(reverse(route, args=[nobody.public_id]))
            assert response.status_code == 200
        assert bare("No engine in care belonged") in text_of(response)

    def test_an_owner_sees_only_their_own_in_a_shared_aircraft(
        self, signed_in, viewer_as, make_engine, engines, owner, now
    ) -> None:
        looks = viewer_as(Role.OWNER)
        give_login(owner, looks.user, now)
        in_it = FittingFacts(aircraft_type="TR-24", registration="ZZ-RHO")
        make_engine(serial="6001", fitting=in_it)
        address = reverse("web:aircraft-status", args=[engines[0].public_id])
        with time_machine.travel(now, tick=False):
            text = words_of(signed_in(looks).get(address))
        assert "serial 5002" in text
        assert "serial 6001" not in text

    @pytest.mark.parametrize("many", [1, 5])
    def test_many_engines_ask_as_often_as_one(
        self, page, make_engine, owner, django_assert_num_queries, many: int
    ) -> None:
        in_it = FittingFacts(aircraft_type="TR-24", registration="ZZ-RHO")
        made = [make_engine(owner=owner, fitting=in_it) for _ in range(many)]
        # session, user, membership; owner; engines; facts of engines without parts;
        # rules; revisions that are current; heads of the chains; owners on that day
        facts = QUERIES - 3
        for route in ("web:owner-status", "web:owner-status-pdf"):
            with django_assert_num_queries(5 + facts + 4):
                page.get(reverse(route, args=[owner.public_id]))
        # the engine named, the registrations that it ever had
        for route in ("web:aircraft-status", "web:aircraft-status-pdf"):
            with django_assert_num_queries(6 + facts + 4):
                page.get(reverse(route, args=[made[0].public_id]))
