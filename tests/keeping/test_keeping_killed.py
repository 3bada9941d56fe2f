"""Compacting, backing up and restoring killed anywhere: the old or the new is there, whole, and the next one clears up.

The commands run in the warmed processes of tests/safety, which count what a command does to the disk and kill it there.
"""

from __future__ import annotations

import random
import shutil
import signal
import sys
from datetime import datetime
from pathlib import Path

import pytest

from tests.keeping.tables import read_all, seen
from tests.safety import room
from tests.safety.servers import Server
from tests.safety.state import read_files

pytestmark = [pytest.mark.slow, pytest.mark.skipif(sys.platform == "win32", reason="forks, and kills by SIGKILL")]

DATABASE = "airhours.duckdb"
POINTS = 6
LAST = 8  # of the last things that a command does, where files take their places


@pytest.fixture(scope="module")
def base(server: Server, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a site that was run, and a backup of it as it was one load before."""
    folder = tmp_path_factory.mktemp("base")
    with pytest.MonkeyPatch.context() as patched:  # evenings of two months, of which the first is closed
        patched.setattr(room, "EVENING", datetime(2031, 2, 24, 19))  # noqa: DTZ001 - local, as the room writes it
        site = room.write_room(folder / "site")
    assert server.run(site).is_done
    assert server.command("backup", site, folder / "room.zip").is_done
    with (site / "rulings.csv").open("a", encoding="utf-8") as file:
        file.write("R7,not air,One,2031-02-28T20:00:00,2031-02-28T20:05:00,,cd,2031-03-01T10:00:00,another test card\n")
    assert server.run(site).is_done
    return folder


def points(count: int, seed: str) -> list[int]:
    """Where to kill: the last events, and some of those before them."""
    before, dice = range(max(0, count - LAST)), random.Random(seed)
    return sorted(dice.sample(before, min(POINTS, len(before)))) + list(range(max(0, count - LAST), count))


def strike(server: Server, base: Path, folder: Path, command: tuple[str, ...], event: int) -> None:
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(base, folder)
    ran = server.command(*(part.format(folder) for part in command), event=event)
    assert ran.status == -signal.SIGKILL, (event, ran)


COMPACT = ("compact", "{}/site")
BACKUP = ("backup", "{}/site", "{}/room.zip", "--replace")
ARCHIVE = ("archive", "{}/site", "--before", "2031-03")
RESTORE = ("restore", "{}/room.zip", "{}/site", "--replace")


def events_of(server: Server, base: Path, folder: Path, command: tuple[str, ...]) -> int:
    shutil.copytree(base, folder)
    for _ in range(2):  # what the first one imports is an event too, and no later one's
        ran = server.command(*(part.format(folder) for part in command))
        assert ran.is_done, ran
    return len(ran.events)


def test_compacting_killed_anywhere(server: Server, base: Path, tmp_path: Path) -> None:
    folder, wanted = tmp_path / "struck", server.read_tables(base / "site" / DATABASE)
    for event in points(events_of(server, base, tmp_path / "twin", COMPACT), "compact"):
        strike(server, base, folder, COMPACT, event)
        assert server.read_tables(folder / "site" / DATABASE) == wanted
        assert server.command("compact", folder / "site").is_done
        assert server.read_tables(folder / "site" / DATABASE) == wanted
        assert read_files(folder).keys() == read_files(base).keys()


def test_backing_up_killed_anywhere(server: Server, base: Path, tmp_path: Path) -> None:
    folder, twin = tmp_path / "struck", tmp_path / "twin"
    count = events_of(server, base, twin, BACKUP)
    old, new = ((place / "room.zip").read_bytes() for place in (base, twin))
    assert old != new
    for event in points(count, "backup"):
        strike(server, base, folder, BACKUP, event)
        assert (folder / "room.zip").read_bytes() in (old, new)
        assert server.command(*(part.format(folder) for part in BACKUP)).is_done
        assert (folder / "room.zip").read_bytes() == new
        assert read_files(folder).keys() == read_files(base).keys()


def test_restoring_killed_anywhere(server: Server, base: Path, tmp_path: Path) -> None:
    """Each file is the old or the new one; restoring again makes all of them new."""
    folder, twin = tmp_path / "struck", tmp_path / "twin"
    count = events_of(server, base, twin, RESTORE)
    databases = [server.read_tables(place / "site" / DATABASE) for place in (base, twin)]
    rulings = [(place / "site" / "rulings.csv").read_bytes() for place in (base, twin)]
    assert databases[0] != databases[1]
    assert rulings[0] != rulings[1]
    for event in points(count, "restore"):
        strike(server, base, folder, RESTORE, event)
        assert server.read_tables(folder / "site" / DATABASE) in databases
        assert (folder / "site" / "rulings.csv").read_bytes() in rulings
        assert server.command(*(part.format(folder) for part in RESTORE)).is_done
        assert server.read_tables(folder / "site" / DATABASE) == databases[1]
        assert (folder / "site" / "rulings.csv").read_bytes() == rulings[1]
        assert read_files(folder).keys() == read_files(base).keys()
    assert read_all(folder / "site" / DATABASE) == read_all(twin / "site" / DATABASE)


def test_archiving_killed_anywhere(server: Server, base: Path, tmp_path: Path) -> None:
    """Whatever is left, every line is there once; archiving again leaves what it leaves where nothing happened."""
    folder, twin = tmp_path / "struck", tmp_path / "twin"
    shutil.copytree(base, twin)
    ran = server.command(*(part.format(twin) for part in ARCHIVE))
    assert ran.is_done
    wanted = seen(base / "site")
    assert seen(twin / "site") == wanted
    for event in points(len(ran.events) - 10, "archive"):  # what is imported on the way is not imported twice
        strike(server, base, folder, ARCHIVE, event)
        assert seen(folder / "site") == wanted
        assert server.command(*(part.format(folder) for part in ARCHIVE)).is_done
        assert seen(folder / "site") == wanted
        assert read_files(folder).keys() == read_files(twin).keys()


@pytest.mark.parametrize("command", [COMPACT, BACKUP, RESTORE, ARCHIVE])
def test_no_room_on_the_disk_changes_nothing(
    server: Server, base: Path, tmp_path: Path, command: tuple[str, ...]
) -> None:
    folder = tmp_path / "full"
    for largest_kib in (0, 3):
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(base, folder)
        wanted, files = server.read_tables(folder / "site" / DATABASE), read_files(folder)
        ran = server.command(*(part.format(folder) for part in command), limits={"RLIMIT_FSIZE": largest_kib * 1024})
        assert "cannot be written" in ran.refusal or "disk is full" in ran.refusal
        assert server.read_tables(folder / "site" / DATABASE) == wanted
        left = {name: sum_ for name, sum_ in read_files(folder).items() if not name.endswith((DATABASE, ".lock"))}
        assert left == {name: sum_ for name, sum_ in files.items() if not name.endswith(DATABASE)}
