"""The smallest valid publication, revision, provision with its rule, and document."""

from datetime import UTC, date, datetime
from typing import Any

import factory
from factory.django import DjangoModelFactory

from notices.models import Document, Kind, Provision, Publication, Revision, RuleVersion
from notices.rules.designations import designation
from tests.factories.accounts import StationFactory, UserFactory

ALWAYS: dict[str, Any] = {"always": True}
WITHIN_50_HOURS: dict[str, Any] = {"initial": {"hours": 50, "after": "effective"}}
CONFIRMED_AT = datetime(2026, 1, 20, 8, 0, tzinfo=UTC)


class DocumentFactory(DjangoModelFactory[Document]):
    """A row without a stored file; `notices.documents.store` makes both."""

    class Meta:
        model = Document

    station = factory.SubFactory(StationFactory)
    sha256 = factory.Sequence(lambda n: f"{n:064x}")
    size = 1000
    name = factory.Sequence(lambda n: f"document {n}.pdf")
    added_by = factory.SubFactory(UserFactory)


class PublicationFactory(DjangoModelFactory[Publication]):
    class Meta:
        model = Publication

    station = factory.SubFactory(StationFactory)
    kind = Kind.BULLETIN
    number = factory.Sequence(lambda n: f"SB-{n:03d}")
    number_key = factory.LazyAttribute(lambda made: designation(made.number))
    issuer = "Maker of the engine"
    title = "Inspect the fuel pump"


class RevisionFactory(DjangoModelFactory[Revision]):
    """A draft, or with `confirmed=True` one that took over on its effective date."""

    class Meta:
        model = Revision

    class Params:
        confirmed = factory.Trait(
            confirmed_at=CONFIRMED_AT,
            confirmed_by=factory.SelfAttribute("entered_by"),
            takes_over_on=factory.LazyAttribute(
                lambda made: made.effective_on or made.issued_on
            ),
        )

    publication = factory.SubFactory(PublicationFactory)
    station = factory.SelfAttribute("publication.station")
    label = factory.Sequence(lambda n: str(n))
    sequence = factory.Sequence(lambda n: n)
    issued_on = date(2026, 1, 5)
    effective_on = date(2026, 1, 15)
    applicability = factory.LazyFunction(lambda: dict(ALWAYS))
    entered_by = factory.SubFactory(UserFactory)


class ProvisionFactory(DjangoModelFactory[Provision]):
    """An action of a confirmed revision, with its rule: within 50 h, for every engine.

    `rule__condition={...}`, `rule__action={...}` and so on say another rule.
    """

    class Meta:
        model = Provision
        skip_postgeneration_save = True

    revision = factory.SubFactory(RevisionFactory, confirmed=True)
    station = factory.SelfAttribute("revision.station")
    order = factory.Sequence(lambda n: n % 900)  # an item has three digits
    title = "Inspect the fuel pump"

    @factory.post_generation
    def rule(self: Provision, create: bool, extracted: object, **given: Any) -> None:
        if create:
            RuleVersionFactory(provision=self, **given)


class RuleVersionFactory(DjangoModelFactory[RuleVersion]):
    """The rule of a provision, frozen where its revision is confirmed."""

    class Meta:
        model = RuleVersion

    applicability = factory.LazyAttribute(
        lambda made: made.provision.revision.applicability
    )
    condition = factory.LazyFunction(lambda: dict(ALWAYS))
    action = factory.LazyFunction(lambda: dict(WITHIN_50_HOURS))
    written_by = factory.SelfAttribute("provision.revision.entered_by")
    frozen_at = factory.SelfAttribute("provision.revision.confirmed_at")
