"""Whether somebody may do what a link or a form leads to."""

from __future__ import annotations

from django import template

from tracker.accounts.access import Right, Viewer

register = template.Library()


@register.filter
def may(viewer: Viewer | None, right: str) -> bool:
    """Whether the viewer holds the right of that name: viewer|may:"RECORD_WORK"."""
    return viewer is not None and viewer.may(Right[right])
