"""Sign-in without sign-up: a station enters its people, nobody enters themselves."""

from allauth.account.adapter import DefaultAccountAdapter
from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse

from tracker.accounts.models import User


class ClosedAdapter(DefaultAccountAdapter):  # type: ignore[misc]  # allauth has no types
    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def set_password(self, user: User, password: str) -> None:
        """Called wherever somebody chooses a password: from then on it is their own."""
        user.set_password(password)
        user.initial_password = False
        user.save(update_fields=["password", "initial_password"])

    def get_reset_password_from_key_url(self, key: str) -> str:
        """The link in a mail, on the configured address whatever host was asked."""
        uid, _, token = key.partition("-")
        path = reverse("account_reset_password_from_key", args=[uid, token])
        return f"{settings.BASE_URL}{path}"

    def get_password_change_redirect_url(self, request: HttpRequest) -> str:
        return "/"
