"""Who may do what."""

import pytest

from tracker.accounts.access import Right, Viewer
from tracker.accounts.models import Role


def test_an_owner_may_only_look_and_read_meters(viewer_as) -> None:
    owner: Viewer = viewer_as(Role.OWNER)
    allowed = {right for right in Right if owner.may(right)}
    assert allowed == {Right.SEE_ENGINES, Right.SEE_NOTICES, Right.ADD_READING}


@pytest.mark.parametrize("right", list(Right))
def test_an_administrator_may_do_everything(administrator: Viewer, right) -> None:
    assert administrator.may(right)


def test_a_technician_may_not_confirm_a_revision(
    technician: Viewer, inspector: Viewer
) -> None:
    assert not technician.may(Right.CONFIRM_NOTICES)
    assert inspector.may(Right.CONFIRM_NOTICES)
