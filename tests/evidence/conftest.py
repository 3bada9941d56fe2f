"""The rooms that all tests of the room evidence look at, each measured once."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest

from tests.evidence.rooms import SAMPLE, Room, copy_site, measure_room, reopened
from tests.evidence.tiny import write_site
from tests.finished_room import Finished


@pytest.fixture(scope="session")
def sample(finished: Finished) -> Iterator[Room]:
    text = (finished.reports / "data" / "figures.json").read_text(encoding="utf-8")
    room = reopened(finished.site, json.loads(text))
    yield room
    room.store.close()


@pytest.fixture(scope="session")
def second(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Room]:
    room = measure_room(copy_site(SAMPLE / "second_room", tmp_path_factory.mktemp("evidence") / "second"))
    yield room
    room.store.close()


@pytest.fixture(scope="session")
def tiny(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Room]:
    room = measure_room(write_site(tmp_path_factory.mktemp("evidence") / "tiny"))
    yield room
    room.store.close()
