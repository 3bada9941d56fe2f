"""Runs a PostgreSQL server of its own for a test: in a folder of its own, on a free port of the loopback only."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

PASSWORD = "p@ss:w/ord %41'\"\\"  # noqa: S105 - of a server that lives for one test
USER = "keeper"
SERVICE_USERS = ("postgres", "nobody")  # whom the server runs as where the test is root, as which it will not run
TRIES = 5


@dataclass(frozen=True)
class Server:
    """A running server, its unix socket's folder, and how to reach it."""

    binaries: Path
    folder: Path
    port: int

    def address(self, user: str = USER, database: str = "postgres", **named: str) -> str:
        """A connection without a password."""
        said = "&".join(f"{name}={value}" for name, value in named.items())
        return f"postgresql://{user}@127.0.0.1:{self.port}/{database}{'?' if said else ''}{said}"

    def run(self, sql: str) -> str:
        """Run statements as the server's keeper; returns what psql prints, cells by tabs."""
        reach = ("-h", str(self.folder), "-p", str(self.port), "-U", USER, "-d", "postgres")
        done = subprocess.run(
            [str(self.binaries / "psql"), *reach, "-XqAt", "-F\t", "-v", "ON_ERROR_STOP=1", "-c", sql],
            env={**os.environ, "PGPASSWORD": PASSWORD},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout


def server_binaries() -> Path | None:
    """The folder of the newest server's programs, or None where there is none."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    if found:
        return found[-1].parent
    on_path = shutil.which("initdb")
    return Path(on_path).resolve().parent if on_path else None


@contextmanager
def postgres_server(binaries: Path) -> Iterator[Server]:
    """A server that asks for PASSWORD (scram), gone with all its data at the end."""
    folder = Path(tempfile.mkdtemp(prefix="airhours-pg-"))  # short, as the path of a socket has to be
    before = _become(folder)
    data = folder / "data"
    secret = folder / "password"
    secret.write_text(f"{PASSWORD}\n")
    if before:
        shutil.chown(secret, before[-2])
    try:
        made = [*before, str(binaries / "initdb"), "-D", str(data), "-U", USER, "-E", "UTF8", "--locale=C", "-N"]
        _run([*made, "--auth=scram-sha-256", f"--pwfile={secret}"], folder)
        yield _started(before, binaries, folder, data)
    finally:
        with suppress(subprocess.CalledProcessError):
            _run([*before, str(binaries / "pg_ctl"), "-D", str(data), "-m", "immediate", "-w", "stop"], folder)
        shutil.rmtree(folder, ignore_errors=True)


def _become(folder: Path) -> list[str]:
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        return []
    for user in SERVICE_USERS:
        with suppress(LookupError):
            shutil.chown(folder, user)
            return ["runuser", "-u", user, "--"]
    raise LookupError("no user for the server to run as")


def _started(before: Sequence[str], binaries: Path, folder: Path, data: Path) -> Server:
    for _ in range(TRIES):
        port = _free_port()
        settings = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1 -c fsync=off -c max_connections=20"
        command = [*before, str(binaries / "pg_ctl"), "-D", str(data), "-o", settings, "-l", str(folder / "log")]
        with suppress(subprocess.CalledProcessError):  # another took the port in between
            _run([*command, "-w", "-t", "60", "start"], folder)
            return Server(binaries, folder, port)
    raise AssertionError((folder / "log").read_text())


def _free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


def _run(command: Sequence[str], folder: Path) -> None:
    subprocess.run(command, check=True, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
