"""The job with the standard library: csv reads, sqlite3 works; `python -m bench.speed.jobs.with_sqlite SITE`."""

import csv
import math
import sqlite3
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from bench.speed.jobs.job import ACTIONS, EPOCH, EVENTS, REASONS, ROLES, Job, asked_job, print_answer

SCRIPT = Path(__file__).with_suffix(".sql")
SUMS = """
select m.month, a.state, sum(min(a.end_us, m.end_us) - max(a.start_us, m.start_us))
from air as a
left join early as e on a.piece = e.piece
inner join months as m on a.start_us < m.end_us and a.end_us > m.start_us
where a.state is not null and (e.piece is null or a.start_us < e.start_us)
group by 1, 2
"""
TABLES = """
create table events (machine, at_us integer, event, value, detail, primary key (machine, at_us, event, value, detail))
    without rowid;
create table switches (at_us integer, action, channel, from_machine, to_machine, reason, taken_by);
create table tickets (ticket primary key, cells);
create table bookings (booking primary key, transmission, channel, machine, role, start_us integer, end_us integer);
create table machines (machine, pair);
create table set_aside (file, reason, cells);
create table rule (tolerance_s, lead_us, carry_us, silence_us, tail_us);
create table months (month, start_us, end_us);
"""

Row = dict[str, str]


class UnreadableError(ValueError):
    """A row that cannot be read; the message is the reason."""


class Reader:
    """Reads a site into the tables; a row that cannot be read is set aside."""

    def __init__(self, job: Job, engine: sqlite3.Connection) -> None:
        self._zone = ZoneInfo(job.zone)
        self._site = job.site
        self._engine = engine

    def load(self, pattern: str, statement: str, cells: Callable[[Row], tuple[object, ...]]) -> None:
        """Run ``statement`` with the cells of every readable row of the files, by name and line."""
        for path in sorted(self._site.glob(pattern)):
            self._engine.executemany(statement, self._readable(path, cells))

    def _readable(self, path: Path, cells: Callable[[Row], tuple[object, ...]]) -> Iterator[tuple[object, ...]]:
        aside = []
        with path.open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file, restval=""):
                try:
                    yield cells(row)
                except UnreadableError as error:
                    aside.append((path.name, str(error), ",".join(str(cell) for cell in row.values())))
        self._engine.executemany("insert into set_aside values (?, ?, ?)", aside)

    def event(self, row: Row) -> tuple[object, ...]:
        at, machine = self._time(row, "at"), _filled(row, "machine")
        return machine, at, _word(row, "event", EVENTS), _number(row, "value"), row["detail"]

    def switch(self, row: Row) -> tuple[object, ...]:
        at, action, channel = self._time(row, "at"), _word(row, "action", ACTIONS), _filled(row, "channel")
        reason = _word(row, "reason", REASONS) if row["reason"] else None
        return at, action, channel, row["from_machine"] or None, _filled(row, "to_machine"), reason, row["by"]

    def ticket(self, row: Row) -> tuple[object, ...]:
        ticket = _filled(row, "ticket")
        for name in ("opened", "restored", "closed"):
            if row[name]:
                self._time(row, name)
        for name in ("labour_hours", "parts_cost"):
            _number(row, name)
        return ticket, "\t".join(row.values())

    def booking(self, row: Row) -> tuple[object, ...]:
        booking, machine, role = _filled(row, "booking"), _filled(row, "machine"), _word(row, "role", ROLES)
        starts, ends = self._time(row, "starts"), self._time(row, "ends")
        if role in ("air", "protect") and not (row["transmission"] and row["channel"]):
            raise UnreadableError("it names no transmission")
        if ends <= starts:
            raise UnreadableError("it ends before it starts")
        return booking, row["transmission"], row["channel"], machine, role, starts, ends

    def _time(self, row: Row, name: str) -> int:
        try:
            at = datetime.fromisoformat(row[name])
        except ValueError:
            raise UnreadableError(f"{name} is no time") from None
        if at.tzinfo is None:
            at = at.replace(tzinfo=self._zone)
        return (at - EPOCH) // timedelta(microseconds=1)


def main() -> None:
    job = asked_job()
    with sqlite3.connect(":memory:") as engine:
        engine.executescript(TABLES)
        rule = (job.tolerance_s, job.lead_us, job.carry_us, job.silence_us, job.tail_us)
        engine.execute("insert into rule values (?, ?, ?, ?, ?)", rule)
        repeats = _read_site(Reader(job, engine), engine)
        engine.executescript(SCRIPT.read_text(encoding="utf-8"))
        edges = engine.execute("select min(start_us), max(end_us) from windows").fetchone()
        engine.executemany("insert into months values (?, ?, ?)", job.months(*edges))
        aside = engine.execute("select count(*) from set_aside").fetchone()[0]
        print_answer(engine.execute(SUMS).fetchall(), aside, repeats)


def _read_site(reader: Reader, engine: sqlite3.Connection) -> int:
    """Read every feed; returns how many rows of events and switches came again."""
    read = _Count()
    reader.load("events/*.csv", "insert or ignore into events values (?, ?, ?, ?, ?)", read.counted(reader.event))
    engine.execute("create table switch_rows as select * from switches")
    reader.load("switches*.csv", "insert into switch_rows values (?, ?, ?, ?, ?, ?, ?)", read.counted(reader.switch))
    engine.execute("insert into switches select distinct * from switch_rows")
    reader.load("tickets*.csv", "insert or replace into tickets values (?, ?)", reader.ticket)
    reader.load("bookings*.csv", "insert or replace into bookings values (?, ?, ?, ?, ?, ?, ?)", reader.booking)
    reader.load(
        "machines*.csv", "insert into machines values (?, ?)", lambda row: (row["machine"], row["pair"] or None)
    )
    kept = [engine.execute(f"select count(*) from {table}").fetchone()[0] for table in ("events", "switches")]
    return read.rows - int(sum(kept))


class _Count:
    def __init__(self) -> None:
        self.rows = 0

    def counted(self, cells: Callable[[Row], tuple[object, ...]]) -> Callable[[Row], tuple[object, ...]]:
        def count(row: Row) -> tuple[object, ...]:
            found = cells(row)
            self.rows += 1
            return found

        return count


def _filled(row: Row, name: str) -> str:
    if not row[name]:
        raise UnreadableError(f"{name} is empty")
    return row[name]


def _word(row: Row, name: str, words: tuple[str, ...]) -> str:
    if row[name] not in words:
        raise UnreadableError(f"{name} is none of the words")
    return row[name]


def _number(row: Row, name: str) -> float | str:
    """The number, or "" where none is recorded: SQLite takes two nulls of a key for different."""
    if not row[name]:
        return ""
    try:
        value = float(row[name])
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise UnreadableError(f"{name} is no number")
    return value


if __name__ == "__main__":
    main()
