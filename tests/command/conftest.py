"""One small room, run once for the tests of a worker that only look at it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.command.room import copy_small, reseal


@pytest.fixture(scope="session")
def small_room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copy_small(tmp_path_factory, tmp_path_factory.mktemp("command") / "small")


@pytest.fixture
def small(small_room: Path) -> Path:
    reseal(small_room)
    return small_room
