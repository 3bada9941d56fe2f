"""The loading as a ledger under violence: killed anywhere, out of room, twice at once, on damaged files.

After every blow the database opens and holds each file whole or not at all, and one undisturbed run later everything is
as if nothing had happened. What is expected is never a pasted value: it is an undisturbed twin, or the state before.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from tests.safety.folders import small_disk
from tests.safety.room import write_later, write_room
from tests.safety.servers import ROOT, RUN, Ran, Server, Servers, Tables, environment
from tests.safety.state import read_files

pytestmark = [pytest.mark.slow, pytest.mark.skipif(sys.platform == "win32", reason="forks, and kills by SIGKILL")]

DATABASE = "airhours.duckdb"
CORES = 2
# How many points of each stage are struck in each kind of run: 9 + 3 + 10 + 14 = 36 of a kind. The commit and the
# closing, where the file itself is written, are struck at random moments of their duration; what models,
# checks and measures write waits for the commit, so they are struck least.
POINTS = {
    "load": {"open": 3, "load": 6},
    "work": {"model": 1, "check": 1, "measure": 1},
    "commit": {"commit": 6, "close": 4},
    "pages": {"render": 2, "pages": 5, "removal": 2, "data": 3, "manifest": 2},
}
DURING = ("commit", "close")
QUERIES = ("execute", "sql")

Bytes = frozenset[tuple[str, str]]  # names and digests


@dataclass(frozen=True)
class Before:
    """A site as it stands when the run begins that is to be killed, and what undisturbed twins are before and after."""

    site: Path
    ran: Ran
    tables: Tables
    tables_after: Tables
    files: dict[str, str]
    files_after: dict[str, str]
    mended: set[tuple[Bytes, Bytes]] = field(default_factory=set)  # what kills left and the next run made whole


@pytest.fixture(scope="module")
def servers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Servers]:
    """Servers that were asked all that the sites below ask, so that each later run of them has the same events."""
    opened = Servers(tmp_path_factory.mktemp("servers"), CORES)
    with ThreadPoolExecutor(CORES) as pool:
        list(pool.map(opened.teach, [tmp_path_factory.mktemp("lesson") for _ in range(CORES)]))
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def befores(servers: Servers, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Before]:
    """A first load into no database; a second run after files were added, changed, lengthened, renamed and removed."""
    folder = tmp_path_factory.mktemp("before")
    found: dict[str, Before] = {}

    def look(server: Server, kind: str) -> None:
        site = aged(write_room(folder / kind))
        if kind == "later":
            assert server.run(site).is_done
            aged(write_later(site))
        found[kind] = look_ahead(server, site)

    with_both(servers, look, ("first", "later"))
    return {kind: found[kind] for kind in ("first", "later")}


def aged(site: Path) -> Path:
    """The site with its new files an hour old: the time of a change just now is not believed (ingest/unread.py)."""
    hour_ago = time.time_ns() - 3600 * 10**9
    for path in (path for path in site.rglob("*") if path.is_file() and "reports" not in path.parts):
        told = path.stat()
        if told.st_mtime_ns > hour_ago + 600 * 10**9:  # what is aged already stays as it was loaded
            os.utime(path, ns=(told.st_atime_ns, hour_ago))
    return site


def look_ahead(server: Server, site: Path) -> Before:
    twin = site.with_name(f"{site.name}-twin")
    shutil.copytree(site, twin)
    ran = server.run(twin)
    assert ran.is_done, ran
    tables = [server.read_tables(each / DATABASE) for each in (site, twin)]
    return Before(site, ran, *tables, read_files(site), visible(read_files(twin)))


def visible(files: dict[str, str]) -> dict[str, str]:
    """Without the database, whose bytes are the engine's: its tables are compared instead."""
    return {name: digest for name, digest in files.items() if name != DATABASE}


def points(ran: Ran, group: str, seed: int) -> list[dict[str, float]]:
    """Where to kill: numbers of events, or moments after the one at which a commit or the closing begins."""
    dice = random.Random(f"{group} {seed}")
    chosen: list[dict[str, float]] = []
    for stage, share in POINTS[group].items():
        numbers = [number for number, event in enumerate(ran.events) if stage_of(event) == stage]
        if stage in DURING:
            begin, end = numbers[-2:]
            lasts_s = ran.events[end][2] - ran.events[begin][2]
            chosen += [{"event": begin, "after_s": dice.uniform(0, lasts_s)} for _ in range(share)]
        else:
            chosen += [{"event": number} for number in sorted(dice.sample(numbers, min(share, len(numbers))))]
    return chosen


def stage_of(event: tuple[str, str, float]) -> str:
    """The stage an event is chosen by: of the rendering, apart, the writing of pages and the removal of old ones."""
    stage, name, _ = event
    called = name.split()[-1]
    if called in DURING:
        return called
    if stage == "render" and called == "unlink":
        return "removal"
    return "pages" if stage == "render" and called not in QUERIES else stage


def strike(server: Server, before: Before, site: Path, point: dict[str, float]) -> bool:
    """Copy the site, kill a run of it at the point, look, run once more, look again; False if it had ended before.

    Where the same bytes of every file are left that an earlier kill of it left, here and in the temporary folder, they
    were looked at and run once more already: a run knows nothing else.
    """
    shutil.copytree(before.site, site)
    ran = server.run(site, **point)
    assert ran.status in {-signal.SIGKILL, 0}, ran
    assert ran.status == -signal.SIGKILL or "after_s" in point, point
    left = everything(site), everything(server.temporary)
    if left not in before.mended:
        holds_before_or_after(server, before, site)
        is_as_undisturbed(server, before, site)
        before.mended.add(left)
    shutil.rmtree(site)
    return ran.status != 0


def everything(folder: Path) -> Bytes:
    """Whatever lies below a folder: files with their digests, and folders, empty ones too."""
    folders = {f"{path.relative_to(folder).as_posix()}/": "" for path in folder.rglob("*") if path.is_dir()}
    return frozenset((read_files(folder) | folders).items())


def is_as_undisturbed(server: Server, before: Before, site: Path) -> None:
    """One undisturbed run later everything is what it is where nothing ever happened, and nothing lies about."""
    again = server.run(site)
    assert again.is_done, again
    tables = server.read_tables(site / DATABASE)
    assert {name for name, digest in tables.tables.items() if before.tables_after.tables.get(name) != digest} == set()
    assert tables == before.tables_after
    assert visible(read_files(site)) == before.files_after
    assert list(server.temporary.iterdir()) == []


def holds_before_or_after(server: Server, before: Before, site: Path) -> None:
    """The database opens; each file's rows are in it whole or not at all; each page is the old or the new one."""
    left = server.read_tables(site / DATABASE)
    assert left.broken == ""
    for file, (read_count, there_count) in left.accounts.items():
        assert read_count == there_count, file
    figures = "run_seal"  # gets what the pages compare once they are written
    assert left.without(figures) in (before.tables.without(figures), before.tables_after.without(figures))
    for name, digest in visible(read_files(site)).items():
        is_draft = name.endswith((".part", ".wal", ".lock")) or ".airhours-" in name
        is_draft |= name.endswith("data/pages.json")  # names old and new pages while both are there
        assert is_draft or digest in {before.files.get(name), before.files_after.get(name)}, name


def strike_all(servers: Servers, before: Before, folder: Path, chosen: list[dict[str, float]]) -> int:
    def one(numbered: tuple[int, dict[str, float]]) -> bool:
        number, point = numbered
        with servers.lent() as server:
            try:
                return strike(server, before, folder / f"{number}", point)
            except AssertionError as error:
                shutil.rmtree(folder / f"{number}", ignore_errors=True)
                raise AssertionError(
                    f"killed at {point}, {before.ran.events[int(point.get('event', 0))]}: {error}"
                ) from error

    with ThreadPoolExecutor(CORES) as pool:
        return sum(pool.map(one, enumerate(chosen)))


@pytest.mark.parametrize("group", POINTS)
@pytest.mark.parametrize("kind", ["first", "later"])
def test_a_run_killed_anywhere_leaves_before_or_after_and_the_next_one_makes_it_whole(
    servers: Servers, befores: dict[str, Before], tmp_path: Path, kind: str, group: str
) -> None:
    chosen = points(befores[kind].ran, group, seed=1)
    wanted = sum(POINTS[group].values())
    assert len(chosen) >= wanted - 2  # a first load has no old page to remove
    struck = strike_all(servers, befores[kind], tmp_path, chosen)
    assert struck >= 0.7 * wanted, "too many runs had ended before they were to be killed"


@pytest.mark.parametrize("kind", ["first", "later"])
def test_a_run_killed_at_any_moment_of_its_time(
    servers: Servers, befores: dict[str, Before], tmp_path: Path, kind: str
) -> None:
    dice, before = random.Random(kind), befores[kind]
    chosen = [{"after_s": dice.uniform(0, before.ran.events[-1][2])} for _ in range(5)]
    assert strike_all(servers, before, tmp_path, chosen) >= 1


@pytest.mark.parametrize("kind", ["first", "later"])
def test_the_true_command_killed_at_random_moments(
    servers: Servers, befores: dict[str, Before], tmp_path: Path, kind: str
) -> None:
    """Nothing counted, nothing remembered: the command as a user types it, killed from outside."""
    before, dice = befores[kind], random.Random(kind)

    def kill(server: Server, after_s: float) -> None:
        site = tmp_path / f"{after_s}"
        shutil.copytree(before.site, site)
        command = [sys.executable, "-c", RUN, "run", str(site)]
        with subprocess.Popen(
            command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, env=environment()
        ) as process:
            assert process.stderr is not None
            assert "files new or changed" in process.stderr.readline()  # the libraries are loaded, the rows are not
            time.sleep(after_s)
            process.kill()
        holds_before_or_after(server, before, site)
        is_as_undisturbed(server, before, site)

    with_both(servers, kill, [dice.uniform(0, 3.0) for _ in range(2)])


def with_both(servers: Servers, work: Callable[[Server, Any], None], given: Sequence[Any]) -> None:
    """Do the work with each of what is given, on as many servers as there are."""

    def one(each: Any) -> None:
        with servers.lent() as server:
            work(server, each)

    with ThreadPoolExecutor(CORES) as pool:
        list(pool.map(one, given))


def fails_for_room(server: Server, before: Before, site: Path, ran: Ran, place: str) -> None:
    """One line that says so and where; the database as it was, or, if the pages did not fit, as it is to be."""
    assert "The disk is full" in ran.refusal or "No space left" in ran.refusal
    assert place in ran.refusal
    assert "run again" in ran.refusal or "--out" in ran.refusal
    holds_before_or_after(server, before, site)
    if "nothing was changed" in ran.refusal:
        assert server.read_tables(site / DATABASE) == before.tables


@pytest.mark.parametrize("kind", ["first", "later"])
def test_files_that_may_not_grow_as_large_as_they_must(
    servers: Servers, befores: dict[str, Before], tmp_path: Path, kind: str
) -> None:
    """A limit on file size stops writing in the middle of a file, as a full disk and a quota do."""
    before = befores[kind]

    def limit(server: Server, largest_kib: int) -> None:
        site = tmp_path / f"{largest_kib}"
        shutil.copytree(before.site, site)
        ran = server.run(site, limits={"RLIMIT_FSIZE": largest_kib * 1024})
        if ran.status:
            fails_for_room(server, before, site, ran, "")
        else:
            assert largest_kib >= 150
            assert server.read_tables(site / DATABASE) == before.tables_after
        is_as_undisturbed(server, before, site)

    with_both(servers, limit, (0, 8, 20, 60, 150, 5_000))


@pytest.mark.parametrize("kind", ["first", "later"])
def test_a_disk_with_no_room_for_the_database(
    servers: Servers, befores: dict[str, Before], tmp_path: Path, kind: str
) -> None:
    """With little room the commit fails; with more it is in the log beside the file, and only its tidying fails."""
    before = befores[kind]

    def fill(server: Server, left_kib: int) -> None:
        disk = tmp_path / f"disk-{left_kib}"
        site = disk / "site"
        with small_disk(disk, 1_000_000) as resize:
            shutil.copytree(before.site, site)
            resize(used_kib(site) + left_kib)
            ran = server.run(site, "--out", tmp_path / f"reports-{left_kib}")
            if left_kib < 200:
                fails_for_room(server, before, site, ran, DATABASE)
            else:
                assert ran.is_done, ran
                assert server.read_tables(site / DATABASE) == before.tables_after
            resize(1_000_000)
            is_as_undisturbed(server, before, site)

    with_both(servers, fill, (4, 40, 120, 160, 400))


def test_a_disk_with_no_room_for_the_pages(servers: Servers, befores: dict[str, Before], tmp_path: Path) -> None:
    before = befores["first"]

    def fill(server: Server, left_kib: int) -> None:
        site = tmp_path / f"site-{left_kib}"
        shutil.copytree(before.site, site)
        with small_disk(site / "reports", 4) as resize:
            resize(4 + left_kib)
            ran = server.run(site)
            fails_for_room(server, before, site, ran, "reports")
            resize(1_000_000)
            is_as_undisturbed(server, before, site)

    with_both(servers, fill, (0, 8, 150))


def test_a_temporary_folder_with_no_room_is_not_missed(
    servers: Servers, befores: dict[str, Before], tmp_path: Path
) -> None:
    """What does not fit into memory goes beside the database, so that no other disk has to have room."""
    before, site, temporary = befores["first"], tmp_path / "site", tmp_path / "temporary"
    shutil.copytree(before.site, site)
    with small_disk(temporary, 4), servers.lent() as server:
        assert server.run(site, temporary=str(temporary)).status == 0
        assert list(temporary.iterdir()) == []
        is_as_undisturbed(server, before, site)


def used_kib(folder: Path) -> int:
    """What the file system of the folder holds."""
    usage = shutil.disk_usage(folder)
    return usage.used // 1024


def at_once(servers: Servers, *commands: tuple[str | Path, ...], apart_s: float) -> list[Ran]:
    """Run commands in processes of their own, the second ``apart_s`` after the first."""

    def one(numbered: tuple[int, tuple[str | Path, ...]]) -> Ran:
        number, command = numbered
        with servers.lent() as server:
            time.sleep(number * apart_s)
            return server.command("run", *command)

    with ThreadPoolExecutor(CORES) as pool:
        return list(pool.map(one, enumerate(commands)))


def done_or_kept_out(ran: list[Ran]) -> list[bool]:
    """Which ended well; each other one said in its one line that another run was there."""
    for each in ran:
        assert each.is_done or "in use by another run. Wait until it has ended" in each.refusal
    return [each.is_done for each in ran]


@pytest.mark.parametrize("kind", ["first", "later"])
def test_two_runs_of_one_site_at_once(servers: Servers, befores: dict[str, Before], tmp_path: Path, kind: str) -> None:
    before, dice = befores[kind], random.Random(kind)
    for number in range(6):
        site = tmp_path / f"{number}"
        shutil.copytree(before.site, site)
        assert any(done_or_kept_out(at_once(servers, (site,), (site,), apart_s=dice.choice([0, 0, 0.05, 0.4]))))
        with servers.lent() as server:
            assert server.read_tables(site / DATABASE) == before.tables_after
            assert visible(read_files(site)) == before.files_after


def test_two_runs_at_once_into_two_folders_from_one_database(
    servers: Servers, befores: dict[str, Before], tmp_path: Path
) -> None:
    before, dice = befores["first"], random.Random(3)
    wanted = reports_of(before)
    for number in range(4):
        site, outs = tmp_path / f"{number}", [tmp_path / f"{number}-{name}" for name in ("a", "b")]
        shutil.copytree(before.site, site)
        commands = [(site, "--out", out) for out in outs]
        done = done_or_kept_out(at_once(servers, *commands, apart_s=dice.choice([0, 0, 0.1])))
        assert any(done)
        for out, is_done in zip(outs, done, strict=True):
            assert read_files(out) == (wanted if is_done else {})
        with servers.lent() as server:
            assert server.read_tables(site / DATABASE) == before.tables_after


def test_two_sites_at_once_into_one_folder_never_mix_their_pages(
    servers: Servers, befores: dict[str, Before], tmp_path: Path
) -> None:
    """The list of files is made from what lies there: it would call a mixture whole, and no later run would mend it."""
    dice = random.Random(5)
    for number in range(5):
        out, sites = tmp_path / f"{number}-out", [tmp_path / f"{number}-{kind}" for kind in befores]
        for site, before in zip(sites, befores.values(), strict=True):
            shutil.copytree(before.site, site)
        commands = [(site, "--out", out) for site in sites]
        assert any(done_or_kept_out(at_once(servers, *commands, apart_s=dice.choice([0, 0.2, 1.0]))))
        assert read_files(out) in [reports_of(before) for before in befores.values()]


def test_a_run_that_fails_beside_one_that_makes_the_same_database(
    servers: Servers, befores: dict[str, Before], tmp_path: Path
) -> None:
    """The failed run takes its new and empty database away: never the one that the other run has begun in."""
    before, dice = befores["first"], random.Random(7)
    broken = tmp_path / "broken"
    shutil.copytree(before.site, broken)
    (broken / "tickets.csv").write_text("no,such,columns\n1,2,3\n", encoding="utf-8")
    for number in range(8):
        database = tmp_path / f"{number}.duckdb"
        commands = [
            (site, "--database", database, "--out", tmp_path / f"{number}-{site.name}")
            for site in (broken, before.site)
        ]
        failed, ran = at_once(servers, *commands, apart_s=dice.uniform(0, 0.3))
        assert "tickets.csv" in failed.refusal or "in use by another run" in failed.refusal
        assert done_or_kept_out([ran])
        with servers.lent() as server:
            assert server.read_tables(database) == (before.tables_after if ran.is_done else Tables({}, {}, ""))


def reports_of(before: Before) -> dict[str, str]:
    """The files of the out folder of the twin, by their names there."""
    start = "reports/"
    return {name[len(start) :]: digest for name, digest in before.files_after.items() if name.startswith(start)}
