"""Webhooks: events posted, signed, to systems of a station's own."""

from tracker.watch.hooks.events import write_events

__all__ = ["write_events"]
