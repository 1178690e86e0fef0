"""Sign-in without sign-up: a station enters its people, nobody enters themselves."""

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class ClosedAdapter(DefaultAccountAdapter):  # type: ignore[misc]  # allauth has no types
    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False
