"""The password asked again, where something is signed. Wrong ones are counted."""

from __future__ import annotations

from typing import Final

from django.contrib.auth.hashers import check_password
from django.core.cache import cache

from tracker.accounts.models import User

MOST_WRONG: Final = 5
WITHIN_SECONDS: Final = 15 * 60


class PasswordRefused(ValueError):  # noqa: N818  # said so in every sentence of the house
    """The password is not that of the person, or was wrong too often."""


def confirm_password(user: User, password: str) -> None:
    """Raise PasswordRefused unless the password is the person's own.

    After five wrong ones in a quarter of an hour none is looked at, right or wrong.
    """
    key = f"wrong-passwords:{user.pk}"
    if (cache.get(key) or 0) >= MOST_WRONG:
        raise PasswordRefused(
            "The password was wrong too often. Wait a quarter of an hour, then sign."
        )
    # Against the hash in the database: the person at hand may have been read earlier.
    stored = User.objects.values_list("password", flat=True).get(pk=user.pk)
    if check_password(password, stored):
        cache.delete(key)
        return
    cache.add(key, 0, WITHIN_SECONDS)
    cache.incr(key)
    raise PasswordRefused("That is not your password. Nothing was signed.")
