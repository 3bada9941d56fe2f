"""Syslog as real programs write it: util-linux's logger, and an rsyslogd of the test's own with its usual templates."""

from __future__ import annotations

import io
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from pipeline.ingest.syslog.syslog_reader import read_syslog
from pipeline.ingest.times.stamps import read_stamps

pytestmark = pytest.mark.slow

LOGGER, RSYSLOGD = shutil.which("logger"), shutil.which("rsyslogd") or shutil.which("rsyslogd", path="/usr/sbin:/sbin")
needs_logger = pytest.mark.skipif(LOGGER is None, reason="logger is not installed")
needs_rsyslogd = pytest.mark.skipif(LOGGER is None or RSYSLOGD is None, reason="logger or rsyslogd is not installed")
PATIENCE_S = 30
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
PARAMETERS = ('tension="0.4"', r'note="a \] \"b\" \\"')  # as logger wants them: quoted and escaped by the caller
READ = {"vt@32473.tension": "0.4", "vt@32473.note": 'a ] "b" \\'}
FILES = {
    "new.log": "RSYSLOG_SyslogProtocol23Format",
    "iso.log": "RSYSLOG_FileFormat",
    "old.log": "RSYSLOG_TraditionalFileFormat",
}
CONFIGURATION = """
global(workDirectory="{folder}" net.enableDNS="off")
module(load="imuxsock" SysSock.Use="off")
module(load="imtcp")
input(type="imuxsock" Socket="{folder}/socket" ruleset="files")
input(type="imtcp" address="127.0.0.1" port="0" listenPortFileName="{folder}/port" ruleset="files")
ruleset(name="files") {{
{actions}
}}
"""


@dataclass(frozen=True)
class Daemon:
    """A running rsyslogd that writes each message in every one of ``FILES``."""

    folder: Path

    def send(self, *arguments: str, over_tcp: bool = False) -> None:
        port = (self.folder / "port").read_text(encoding="ascii").strip()
        way = ("-T", "-n", "127.0.0.1", "-P", port) if over_tcp else ("-u", str(self.folder / "socket"))
        subprocess.run([str(LOGGER), *way, *arguments], check=True, timeout=PATIENCE_S)

    def read(self, name: str, count: int) -> list[dict[str, str]]:
        path = self.folder / name
        wait_until(lambda: path.exists() and path.read_bytes().count(b"\n") >= count)
        return rows_of(path.read_bytes())


def wait_until(is_so: Callable[[], bool]) -> None:
    end = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < end, "the daemon did not do it in time"
        time.sleep(0.05)


def rows_of(data: bytes) -> list[dict[str, str]]:
    """What is recorded in each row, by header; nothing may be set aside."""
    rows: list[dict[str, str]] = []
    for batch in read_syslog(io.BytesIO(data), "a.log"):
        assert batch.aside.is_empty(), batch.aside.to_dicts()
        names = dict(zip(batch.rows.columns[2:], batch.headers, strict=True))
        found = batch.rows.drop("line", "text").rename(names).to_dicts()
        rows += [{name: cell for name, cell in row.items() if cell is not None} for row in found]
    return rows


def is_recent(stamp: str) -> bool:
    """Whether a stamp is of the last minutes; one without a year and zone is completed from this machine's clock."""
    now = datetime.now(UTC)
    if stamp[0].isalpha():
        local = now.astimezone()
        month, day, clock = stamp.split()
        stamp = f"{local.year}-{MONTHS.index(month) + 1:02d}-{int(day):02d}T{clock}{local:%z}"
    at = read_stamps(pl.Series([stamp]), ZoneInfo("UTC"))["at_utc"].item()
    return abs(now.replace(tzinfo=None) - at) < timedelta(minutes=5)


def written(*arguments: str) -> dict[str, str]:
    """The row of the line that logger says it would send."""
    command = [str(LOGGER), "--no-act", "--stderr", "--socket-errors=off", *arguments]
    done = subprocess.run(command, check=True, capture_output=True, timeout=PATIENCE_S)
    (row,) = rows_of(done.stderr)
    return row


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[Daemon]:
    actions = "\n".join(
        f'action(type="omfile" file="{tmp_path}/{name}" template="{template}")' for name, template in FILES.items()
    )
    configuration = tmp_path / "rsyslog.conf"
    configuration.write_text(CONFIGURATION.format(folder=tmp_path, actions=actions), encoding="ascii")
    command = [str(RSYSLOGD), "-n", "-f", str(configuration), "-i", str(tmp_path / "pid")]
    with (tmp_path / "daemon.txt").open("wb") as log, subprocess.Popen(command, stdout=log, stderr=log) as process:
        try:
            wait_until(lambda: (tmp_path / "port").exists() and (tmp_path / "socket").exists())
            yield Daemon(tmp_path)
        finally:
            process.terminate()
            process.wait(PATIENCE_S)


@needs_logger
def test_logger_in_the_form_of_rfc_5424() -> None:
    sd = [part for parameter in PARAMETERS for part in ("--sd-param", parameter)]
    row = written(
        "--rfc5424",
        "-t",
        "reader",
        "--id=412",
        "-p",
        "local0.info",
        "--msgid",
        "LOCKS",
        "--sd-id",
        "vt@32473",
        *sd,
        "LOCK é",
    )
    assert is_recent(row.pop("at"))
    assert row.pop("host")
    # logger adds what it knows of the clock; syncAccuracy only where it is synchronised.
    assert row.pop("timeQuality.tzKnown") in {"0", "1"}
    assert row.pop("timeQuality.isSynced") in {"0", "1"}
    row.pop("timeQuality.syncAccuracy", None)
    # local0.info: facility 16, severity 6 (RFC 5424 section 6.2.1, tables 1 and 2).
    head = {"app": "reader", "procid": "412", "msgid": "LOCKS", "facility": "16", "severity": "6"}
    assert row == {**head, **READ, "msg": "LOCK é"}


@needs_logger
def test_logger_without_time_host_and_text_and_with_several_elements() -> None:
    plain = {"app": "reader", "facility": "1", "severity": "5", "msg": "LOCK"}  # user.notice unless told otherwise
    assert written("--rfc5424=notime,notq,nohost", "-t", "reader", "LOCK") == plain
    row = written("--rfc5424=notime,notq,nohost", "-t", "reader", "--sd-id", "a@1", "--sd-param", 'x="1"', "--sd-id",
                  "b@1", "--sd-param", 'y="2"', "--sd-param", 'y="3"', "LOCK")  # fmt: skip
    assert row == {**plain, "a@1.x": "1", "b@1.y": "2, 3"}


@needs_logger
def test_logger_with_a_count_of_octets_and_in_the_older_form() -> None:
    counted = written("--octet-count", "--rfc5424=notime,notq,nohost", "-t", "reader", "LOCK é")
    assert counted == {"app": "reader", "facility": "1", "severity": "5", "msg": "LOCK é"}
    old = written("--rfc3164", "-t", "reader", "--id=412", "-p", "daemon.err", "LOCK")
    assert is_recent(old.pop("at"))
    assert old.pop("host")
    assert old == {"app": "reader", "procid": "412", "facility": "3", "severity": "3", "msg": "LOCK"}
    local = written("-t", "reader", "-p", "daemon.err", "LOCK")  # as on the machine's own socket: no host
    assert is_recent(local.pop("at"))
    assert local == {"app": "reader", "facility": "3", "severity": "3", "msg": "LOCK"}


@needs_rsyslogd
@pytest.mark.parametrize("name", FILES)
def test_rsyslogd_and_what_it_writes_of_local_messages(daemon: Daemon, name: str) -> None:
    daemon.send("-t", "reader", "--id=412", "-p", "local0.info", "LOCK é")
    daemon.send("-t", "reader", "-p", "local0.info", "LOCK: [a] -\tb")
    rows = daemon.read(name, 2)
    assert all(is_recent(row.pop("at")) for row in rows)
    assert len({row.pop("host") for row in rows}) == 1
    priority = {"facility": "16", "severity": "6"} if name == "new.log" else {}
    assert rows == [
        {"app": "reader", "procid": "412", "msg": "LOCK é", **priority},
        {"app": "reader", "msg": "LOCK: [a] -#011b", **priority},
    ]


@needs_rsyslogd
@pytest.mark.parametrize("name", FILES)
def test_rsyslogd_and_what_it_writes_of_messages_over_the_network(daemon: Daemon, name: str) -> None:
    sd = [part for parameter in PARAMETERS for part in ("--sd-param", parameter)]
    new = ("--rfc5424=notq", "-t", "reader", "--id=412", "--msgid", "LOCKS", "--sd-id", "vt@32473", *sd)
    old = ("--rfc3164", "-t", "reader", "--id=412")
    rows: list[dict[str, str]] = []
    for count, arguments in enumerate([(*new, "LOCK"), ("--octet-count", *new, "two\nlines"), (*old, "LOCK")], start=1):
        daemon.send(*arguments, over_tcp=True)
        rows = daemon.read(name, count)  # each is waited for: the connections' threads keep no order among them
    assert all(is_recent(row.pop("at")) for row in rows)
    assert len({row.pop("host") for row in rows}) == 1
    # The older templates have no structured data, no message id and no priority, and put no colon after reader[412].
    more = {"facility": "1", "severity": "5"} if name == "new.log" else {}
    structured = {"msgid": "LOCKS", **READ} if name == "new.log" else {}
    common = {"app": "reader", "procid": "412", **more}
    assert rows == [
        {**common, **structured, "msg": "LOCK"},
        {**common, **structured, "msg": "two#012lines"},
        {**common, "msg": "LOCK"},
    ]


@needs_rsyslogd
def test_files_of_all_templates_one_after_another(daemon: Daemon) -> None:
    for number in range(20):
        daemon.send("-t", "reader", f"LOCK {number}")
    for name in FILES:
        daemon.read(name, 20)
    rows = rows_of(b"".join((daemon.folder / name).read_bytes() for name in FILES))
    assert [row["msg"] for row in rows] == [f"LOCK {number}" for number in range(20)] * 3
    assert {row["app"] for row in rows} == {"reader"}
