"""Dated facts: what held on a day, as far as was known at a moment."""

from __future__ import annotations

import pytest

from tests.factories.fleet import EngineFactory


@pytest.mark.django_db
def test_an_engine_repeats_its_first_identity() -> None:
    engine = EngineFactory(serial="K-612-62B")
    assert (engine.serial, engine.serial_key) == ("K-612-62B", "K612-62B")
