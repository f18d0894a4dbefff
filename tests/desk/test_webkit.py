"""A coach's short way through the desk in a third engine, on a device that is set to dark.

Run by hand (``--long``): what it needs of Debian is not installed for every run.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk.test_firefox import a_coachs_way
from tests.desk.webkit import dark_webkit

#: Its browser's own bar takes so much room; the page is a phone's from 760 pixels down.
NARROWEST = 450
pytestmark = [pytest.mark.long, pytest.mark.timeout(300), pytest.mark.xdist_group("desk")]


def test_a_coach_writes_mends_drags_and_plays_in_webkit(tmp_path: Path) -> None:
    with dark_webkit(tmp_path / "home") as page:
        a_coachs_way(page, tmp_path / "coach", NARROWEST)
