"""Set a station up with its first administrator."""

from __future__ import annotations

import getpass
from argparse import ArgumentParser

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.core.validators import validate_email
from django.utils import timezone

from tracker.accounts.models import User
from tracker.accounts.people import PeopleRefused, add_station


class Command(BaseCommand):
    help = "Set a station up with its first administrator."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("station", help="name of the station")
        parser.add_argument("--administrator", required=True, help="e-mail address")
        parser.add_argument("--name", required=True, help="name of the administrator")
        parser.add_argument(
            "--ask-password",
            action="store_true",
            help="ask for a password instead of making one that is shown once",
        )

    def handle(
        self,
        *,
        station: str,
        administrator: str,
        name: str,
        ask_password: bool,
        **options: object,
    ) -> None:
        try:
            validate_email(administrator)
            user = User(email=administrator, name=name)
            password = asked_password(user) if ask_password else None
            _, made = add_station(
                name=station,
                email=administrator,
                person=name,
                at=timezone.now(),
                password=password,
            )
        except ValidationError as fault:
            raise CommandError(" ".join(fault.messages)) from fault
        except PeopleRefused as fault:
            raise CommandError(str(fault)) from fault
        print(f"{station} is set up; {administrator} is its administrator.")
        if made:
            print(f"Password, shown once, to be changed at the first sign-in: {made}")


def asked_password(user: User) -> str:
    """Ask at the terminal, twice; raises ValidationError where it is too weak."""
    password = getpass.getpass(f"Password of {user.email}: ")
    if password != getpass.getpass("The same again: "):
        raise ValidationError("The two passwords differ. Nothing has been kept.")
    validate_password(password, user)
    return password
