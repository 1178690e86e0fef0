"""The world that the walk is made in holds every model twice."""

import pytest

from tests.tracker.world import World, build, our_models, path_to_station


@pytest.fixture
def world(db: None, settings, tmp_path) -> World:
    settings.DOCUMENT_DIR = settings.ATTACHMENT_DIR = tmp_path
    return build()


def test_every_model_has_a_row_at_both_stations(world: World) -> None:
    missing = [
        f"{model.__name__} of {one.word}"
        for model in our_models()
        for one in (world.own, world.foreign)
        if not model._default_manager.filter(
            **{path_to_station(model): one.station.pk}
        ).exists()
    ]
    assert missing == []
