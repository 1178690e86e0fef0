"""Load the demo scenario, and say who may sign in."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse
from django.utils import timezone

from tracker.accounts.models import Membership
from tracker.compliance.scenario.files import setting
from tracker.compliance.scenario.load import LoadedInPart, load
from tracker.compliance.scenario.people import PASSWORD


class Command(BaseCommand):
    help = "Load the invented shop with its engines and publications; a second time changes nothing."

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            stage = load(timezone.now())
        except LoadedInPart as broken:
            raise CommandError(str(broken)) from broken
        if stage is None:
            self.stdout.write("The scenario is loaded already. Nothing was changed.")
        else:
            self.stdout.write(
                f"Loaded {stage.team.station}: {len(stage.members)} engines, "
                f"{len(stage.publications)} publications."
            )
        self.stdout.write(f"Open {settings.BASE_URL}/ and sign in as one of these:")
        row = setting(timezone.localdate())["station"]
        members = Membership.objects.filter(left_at=None, station__name=row["name"])
        for member in members.select_related("user"):
            self.stdout.write(f"  {member.user.email:32} {member.get_role_display()}")
        self.stdout.write(f"Password for each of them: {PASSWORD}")
        page = reverse("web:check", args=[row["check_address"]])
        self.stdout.write(
            f"Without an account, anybody may check an engine at {settings.BASE_URL}{page}"
        )
