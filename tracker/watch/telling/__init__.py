"""Telling owners: what became so at once or once a day, and documents to all of them."""

from tracker.watch.telling.announcing import (
    Preview,
    announce,
    preview_of_announcement,
)
from tracker.watch.telling.writing import write_due

__all__ = ["Preview", "announce", "preview_of_announcement", "write_due"]
