"""One small room, run once, and copies of it to work on."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.command.room import copy_small, reseal


@pytest.fixture(scope="session")
def kept_room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    room = copy_small(tmp_path_factory, tmp_path_factory.mktemp("keeping") / "small")
    reseal(room)
    return room


@pytest.fixture
def site(kept_room: Path, tmp_path: Path) -> Path:
    """A copy that may be written in."""
    return Path(shutil.copytree(kept_room, tmp_path / "site"))
