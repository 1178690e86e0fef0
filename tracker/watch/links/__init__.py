"""Addresses for people without a session: hours, unsubscribing, calendars."""

from tracker.watch.links.hours import hours_url
from tracker.watch.links.unsubscribing import unsubscribe_url

__all__ = ["hours_url", "unsubscribe_url"]
