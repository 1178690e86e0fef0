"""Engines and provisions as the compliance tests make them."""

from tests.tracker.compliance.conftest import (
    engine,
    evaluated,
    interval,
    make_engine,
    make_provision,
    today,
)

__all__ = ["engine", "evaluated", "interval", "make_engine", "make_provision", "today"]
