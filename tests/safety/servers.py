"""Two warmed processes that the tests share the work between, and what they answered as values."""

from __future__ import annotations

import json
import os
import queue
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

from tests.safety.room import write_later, write_room

ROOT = Path(__file__).resolve().parent.parent.parent
LONGEST_LINE = 2_000  # of what a person is to read
RUN = "import sys; from pipeline.cli import main; sys.argv[0] = 'airhours'; main()"


@dataclass(frozen=True)
class Ran:
    """How a command ended: its status, or below zero the signal that killed it, what it said, what it took."""

    status: int
    stdout: str
    stderr: str
    cpu_s: float
    peak_mib: float
    events: tuple[tuple[str, str, float], ...]

    @property
    def refusal(self) -> str:
        """The one plain line of a command that refused."""
        lines = [line for line in self.stderr.splitlines() if line.startswith("airhours: ")]
        assert self.status == 2, (self.status, self.stdout[-500:], self.stderr[-2000:])
        assert self.stdout == ""
        assert len(lines) == 1, self.stderr[-2000:]
        assert len(lines[0]) < LONGEST_LINE, lines[0][:2000]
        assert self.stderr.splitlines()[-1] == lines[0]
        for word in ("Traceback", "a fault of the program"):
            assert word not in self.stderr, self.stderr[-2000:]
        return lines[0]

    @property
    def is_done(self) -> bool:
        """Whether it ended well and has no more to say than what it did."""
        assert "Traceback" not in self.stderr, self.stderr[-2000:]
        return self.status == 0 and "airhours: " not in self.stderr


@dataclass(frozen=True)
class Tables:
    """A digest a table, and rows read and rows there a file; ``broken`` is why the database does not open."""

    tables: dict[str, str]
    accounts: dict[str, tuple[int | None, int]]
    broken: str

    def without(self, *names: str) -> dict[str, str]:
        return {table: digest for table, digest in self.tables.items() if table not in names}


class Server:
    """One warmed process and its temporary folder; not for two threads at once.

    A process that dies fails the test that asked it, with what it said at its end; the next one finds another in its
    place, taught what the dead one was taught.
    """

    def __init__(self, temporary: Path) -> None:
        temporary.mkdir()
        self.temporary = temporary
        self._lessons: Path | None = None
        self._process = self._begin()

    def _begin(self) -> subprocess.Popen[str]:
        self._said = tempfile.TemporaryFile("w+")  # noqa: SIM115 - as long as the process
        return subprocess.Popen(
            [sys.executable, str(ROOT / "tests" / "safety" / "warmed.py")],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._said,
            text=True,
            cwd=ROOT,
            env=environment(TMPDIR=str(self.temporary)),
        )

    def teach(self, folder: Path) -> None:
        """Have it run the small room, and the same a week later, so that each later run of them has the same events."""
        self._lessons = folder
        site = write_room(folder / "site")
        self.run(site)
        self.run(write_later(site))
        shutil.rmtree(site)

    def renew(self) -> None:
        """Put another process in the place of one that died."""
        if self._process.poll() is None:
            return
        shutil.rmtree(self.temporary)
        self.temporary.mkdir()
        self._process = self._begin()
        if self._lessons is not None:
            self.teach(self._lessons)

    def run(self, site: Path, *more: str | Path, **told: Any) -> Ran:
        """What `airhours run` does with a site, killed or limited as told (see warmed.py)."""
        return self.command("run", site, *more, **told)

    def command(self, *arguments: str | Path, **told: Any) -> Ran:
        said = self._ask({"do": "command", "arguments": list(map(str, arguments)), **told})
        return Ran(**{**said, "events": tuple(map(tuple, said["events"]))})

    def read_tables(self, database: Path) -> Tables:
        said = self._ask({"do": "state", "database": str(database)})
        return Tables(said["tables"], {file: tuple(pair) for file, pair in said["accounts"].items()}, said["broken"])

    def alter(self, database: Path, *statements: str) -> None:
        """Have other hands at the database."""
        self._ask({"do": "alter", "database": str(database), "statements": statements})

    def close(self) -> None:
        self._process.communicate(timeout=30)

    def _ask(self, told: dict[str, Any]) -> dict[str, Any]:
        self.renew()
        stdin, stdout = self._process.stdin, self._process.stdout
        assert stdin is not None
        assert stdout is not None
        with suppress(BrokenPipeError):  # then it answers nothing either
            stdin.write(json.dumps(told) + "\n")
            stdin.flush()
        line = stdout.readline()
        if not line.endswith("\n"):
            self._fail(told)
        said: dict[str, Any] = json.loads(line)
        return said

    def _fail(self, told: dict[str, Any]) -> NoReturn:
        self._process.kill()
        status = self._process.wait()
        self._said.seek(0)
        raise AssertionError(f"the warmed process ended with {status} at {told}: {self._said.read()[-3000:]}")


class Servers:
    """As many servers as there are cores, each lent to one thread at a time."""

    def __init__(self, folder: Path, count: int) -> None:
        self._all = [Server(folder / f"temporary-{number}") for number in range(count)]
        self._free: queue.Queue[Server] = queue.Queue()
        for server in self._all:
            self._free.put(server)

    @contextmanager
    def lent(self) -> Iterator[Server]:
        server = self._free.get()
        try:
            yield server
        finally:
            self._free.put(server)

    def teach(self, folder: Path) -> None:
        """Have one server that was not taught yet learn the small room."""
        with self.lent() as server:
            server.teach(folder)

    def close(self) -> None:
        for server in self._all:
            server.close()


def environment(**more: str) -> dict[str, str]:
    """The environment of a process that is to run this checkout."""
    return {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1", **more}
