"""The same generated rooms in every run: a test that passed on this tree passes on it again.

A test of generated examples that takes long is marked `lengthy`: with a quarter of its examples it is one of the
everyday part, with all of them one of the slow part.
"""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator
from pathlib import Path

import hypothesis
import pytest
from hypothesis.internal.conjecture import providers

from tests.finished_room import Finished, copy_german_room, copy_second_room, finish_room
from tests.safety.servers import Server

hypothesis.settings.register_profile("fixed", derandomize=True, deadline=None, database=None)
hypothesis.settings.load_profile("fixed")

# The engine also draws constants it finds in whatever modules happen to be loaded, so that examples would hang on which
# tests ran before. There is no setting for it; where the name is gone, the engine's own way stays.
if hasattr(providers, "_get_local_constants"):
    providers._get_local_constants = lambda: providers._local_constants

SHARE = 4
HERE = Path(__file__).resolve().parent
# The files that take longest, every day or in the slow part: begun first, so that no core waits at the end for the last
# file of another.
LONGEST = {
    "bench/test_coverage.py", "browser/test_accessible.py", "browser/test_month_sheet.py", "browser/test_pages.py",
    "browser/test_print.py", "command/test_report.py", "docs/test_commands.py", "docs/test_ten_minutes.py",
    "keeping/test_backing_up.py", "keeping/test_keeping_killed.py", "model/test_renewal.py",
    "model/test_second_reader.py", "render/test_pieces.py", "spark/test_equal_rooms.py", "sql/test_models.py",
    "test_cli.py", "test_flow.py", "test_hostile.py", "test_incident_command.py", "test_properties.py",
    "test_safety_database.py",
}  # fmt: skip


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: item.path.relative_to(HERE).as_posix() not in LONGEST)


def pytest_collection_finish() -> None:
    """What is there by now stays to the end; looking through it for garbage again and again is a tenth of the time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


@pytest.fixture(scope="session", autouse=True)
def _judged_here() -> Iterator[None]:
    """The judge's library is loaded once for all tests of a worker, and not by a process beside each run."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("pipeline.beside._started", lambda _: None)
        yield


@pytest.fixture(scope="session")
def examples_share() -> None:
    """Given its values by `pytest_generate_tests`."""


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if metafunc.definition.get_closest_marker("lengthy"):
        few = [] if metafunc.definition.get_closest_marker("slow") else ["few"]  # all are tried at that hour anyway
        metafunc.fixturenames.append("examples_share")
        metafunc.parametrize("examples_share", [*few, pytest.param("all", marks=pytest.mark.slow)], indirect=False)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Iterator[None]:
    function = getattr(item, "obj", None)
    whole = getattr(function, "_hypothesis_internal_use_settings", None)
    is_few = whole is not None and "callspec" in vars(item) and item.callspec.params.get("examples_share") == "few"
    if not is_few:
        return (yield)
    few = -(-whole.max_examples // SHARE)
    function._hypothesis_internal_use_settings = hypothesis.settings(whole, max_examples=few)
    try:
        return (yield)
    finally:
        function._hypothesis_internal_use_settings = whole


@pytest.fixture(scope="session")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Finished:
    """The invented room after one run, to look at and to copy, not to write in."""
    return finish_room(tmp_path_factory)


@pytest.fixture(scope="session")
def finished_second(tmp_path_factory: pytest.TempPathFactory) -> Finished:
    """The invented room of foreign files after one run."""
    return finish_room(tmp_path_factory, copy_second_room)


@pytest.fixture(scope="session")
def finished_german(tmp_path_factory: pytest.TempPathFactory) -> Finished:
    """The invented room after one run, with its pages in German."""
    return finish_room(tmp_path_factory, copy_german_room)


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A warmed process that runs the command for all tests of a worker."""
    if sys.platform == "win32":
        pytest.skip("forks")
    opened = Server(tmp_path_factory.mktemp("server") / "temporary")
    yield opened
    opened.close()
