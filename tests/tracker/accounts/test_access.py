"""Who may do what."""

import pytest

from tests.tracker.rights import HOLDERS
from tracker.accounts.access import Forbidden, Right, Viewer
from tracker.accounts.models import Role


def test_every_right_is_written_out() -> None:
    assert set(HOLDERS) == set(Right)


@pytest.mark.parametrize("right", list(Right))
@pytest.mark.parametrize("role", list(Role))
def test_a_role_holds_a_right_or_not(viewer_as, role: Role, right: Right) -> None:
    viewer: Viewer = viewer_as(role)
    assert viewer.may(right) == (role in HOLDERS[right])


def test_an_act_without_the_right_is_refused_in_words(technician: Viewer) -> None:
    with pytest.raises(Forbidden, match=r"^You may not change the station\.$"):
        technician.require(Right.MANAGE_STATION)
    technician.require(Right.EDIT_FLEET)
