"""A small invented room for the pages: two pairs, two channels, two months, names that try to break a page.

Its figures are small enough to work by hand. Everything is written to the raw tables as ingest would leave them, and
the models are built on top, so that the pages are tried on the real tables.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.ingest.feeds import FEEDS
from pipeline.model import build_models
from pipeline.settings import THRESHOLDS, Settings
from pipeline.store import Store

HOSTILE = "<script>alert(1)</script>"
HOSTILE_MACHINE = 'Z9"><img src=x onerror=alert(2)>'
PERSON = "Someone Real"
SETTINGS = Settings("Room <of> & tests", "Europe/Stockholm", "00:00", 25.0, sync_tolerance_s=0.04, **THRESHOLDS)
TYPES = {
    "VARCHAR": pl.String,
    "BIGINT": pl.Int64,
    "DOUBLE": pl.Float64,
    "TIMESTAMP": pl.Datetime("us"),
    "BOOLEAN": pl.Boolean,
    "TINYINT": pl.Int64,
}
RENAMED = {"at": "at_utc", "starts": "started_at_utc", "ends": "ended_at_utc", "by": "taken_by"}
TIME = pl.Datetime("us")


def at(text: str) -> datetime:
    """A naive UTC instant of 2031 from "02-10 20:00:00.5"."""
    return datetime.fromisoformat(f"2031-{text}")


class Log:
    """Rows of each feed as they pile up."""

    def __init__(self) -> None:
        self.rows: dict[str, list[dict[str, Any]]] = {feed.name: [] for feed in FEEDS}

    def event(
        self, when: datetime, machine: str, event: str, value: float | None = None, detail: str | None = None
    ) -> None:
        self.rows["events"].append(
            {
                "at_text": when.isoformat(),
                "stamped_at_utc": when,
                "machine": machine,
                "event": event,
                "value": value,
                "detail": detail,
            }
        )

    def take(self, when: datetime, channel: str, source: str, target: str, reason: str | None = None) -> None:
        self.rows["switches"].append(
            {
                "at_text": when.isoformat(),
                "at_utc": when,
                "action": "take",
                "channel": channel,
                "from_machine": source,
                "to_machine": target,
                "reason": reason,
                "taken_by": PERSON,
            }
        )

    def book(self, transmission: str, channel: str, machine: str, role: str, start: datetime, end: datetime) -> None:
        self.rows["bookings"].append(
            {
                "booking": f"{transmission}-{machine}",
                "transmission": transmission,
                "channel": channel,
                "programme": "Moss",
                "show": "part 1",
                "reel": f"K0101-{role}",
                "machine": machine,
                "role": role,
                "started_at_utc": start,
                "ended_at_utc": end,
            }
        )

    def pair(
        self, transmission: str, channel: str, machines: tuple[str, str], start: datetime, minutes: int
    ) -> datetime:
        """Book a pair, roll both, lock both and prove them in step before air, stop both after it; returns the end."""
        end = start + timedelta(minutes=minutes)
        for machine, role in zip(machines, ("air", "protect"), strict=True):
            self.book(transmission, channel, machine, role, start, end)
            self.event(start - timedelta(seconds=30), machine, "roll")
            self.event(start - timedelta(seconds=26), machine, "lock")
            self.event(end + timedelta(seconds=1), machine, "stop")
        self.event(start - timedelta(seconds=20), machines[0], "offset", 0.01, machines[1])
        return end


def write_rows(log: Log) -> None:
    """The scenario. Hand figures: tests name them where they use them."""
    one, two = ("T1", "T2"), ("T3", HOSTILE_MACHINE)
    # February, channel One, 60 min: T1 loses the picture at 19:20:00, protect taken 12 s later, covered to the end: no.
    log.pair("A1", "One", one, at("02-10 19:00:00"), 60)
    log.event(at("02-10 19:19:58"), "T1", "alarm", None, HOSTILE)
    log.event(at("02-10 19:20:00"), "T1", "picture_lost")
    log.take(at("02-10 19:20:12"), "One", "T1", "T2")
    log.event(at("02-10 19:30:00"), "T1", "picture_back")
    # February, channel Two, 30 min, nothing happens.
    log.pair("B1", "Two", two, at("02-11 19:00:00"), 30)
    # March, channel One, 90 min: a precaution, no loss.
    log.pair("A2", "One", one, at("03-03 18:00:00"), 90)
    log.take(at("03-03 18:40:00"), "One", "T1", "T2", "precaution")
    # March, channel Two, no protect booked, T3 stops and nothing covers: 40 s on standby, then T3 again.
    start, end = at("03-09 20:00:00"), at("03-09 20:45:00")
    log.book("B2", "Two", "T3", "air", start, end)
    log.event(start - timedelta(seconds=30), "T3", "roll")
    log.event(start - timedelta(seconds=26), "T3", "lock")
    log.event(at("03-09 20:10:00"), "T3", "unlock")
    log.take(at("03-09 20:10:08"), "Two", "T3", "standby", "fault")
    log.event(at("03-09 20:10:40"), "T3", "lock")
    log.take(at("03-09 20:10:48"), "Two", "standby", "T3", "return")
    log.event(end + timedelta(seconds=1), "T3", "stop")
    # March, channel Two, booked but not a word in the log: not known.
    log.book("B3", "Two", HOSTILE_MACHINE, "air", at("03-20 20:00:00"), at("03-20 20:30:00"))
    log.event(at("03-31 12:00:00"), "T1", "clean")
    log.rows["tickets"] += [
        {
            "ticket": "K-1",
            "machine": "T1",
            "opened_at_utc": at("02-10 19:25:00"),
            "restored_at_utc": at("02-10 21:00:00"),
            "closed_at_utc": at("02-11 09:00:00"),
            "symptom": HOSTILE,
            "cause": "heads",
            "action": "=cmd|'/c calc'!A0",
            "written_by": PERSON,
            "labour_h": 1.5,
            "parts_cost": 40.0,
        },
        {
            "ticket": "K-2",
            "machine": "T3",
            "opened_at_utc": at("03-15 09:00:00"),
            "symptom": "fan noisy",
            "written_by": PERSON,
        },
    ]
    log.rows["machines"] += [
        {
            "machine": name,
            "kind": "transport",
            "pair": pair,
            "installed_at_utc": at("01-01 00:00:00"),
            "replacement_cost": 90000.0,
        }
        for name, pair in (("T1", "P1"), ("T2", "P1"), ("T3", "P2"), (HOSTILE_MACHINE, "P2"))
    ]


def write_tables(store: Store, log: Log) -> None:
    """The raw and site tables, and the findings of a check that failed and one that passed."""
    for feed in FEEDS:
        schema = {name: TYPES[kind] for name, kind in feed.table_columns}
        rows = [
            {"file": f"{feed.name}.csv", "line": line, "text": "raw", **row}
            for line, row in enumerate(log.rows[feed.name], 2)
        ]
        columns = {name: [row.get(name) for row in rows] for name in schema}
        store.write(feed.table, pl.DataFrame(columns, schema=schema))
    files = [
        {
            "file": f"{name}.csv",
            "feed": name,
            "format": "csv",
            "sha256": "0" * 64,
            "size_bytes": 1,
            "read_count": len(rows) + (name == "switches"),
            "missing_columns": "",
            "is_mapped": False,
            "reading": "canonical",
        }
        for name, rows in log.rows.items()
    ]
    store.write("source_files", pl.DataFrame(files))
    store.write(
        "raw_set_aside",
        pl.DataFrame(
            [
                {
                    "feed": "switches",
                    "file": "switches.csv",
                    "line": 99,
                    "reason": f'"{HOSTILE}" is not a time',
                    "text": f"{HOSTILE},take,One,T1,T2,,{PERSON}",
                },
            ]
        ),
    )
    store.write("raw_take_order", pl.DataFrame(schema={"file": pl.String, "line": pl.Int64, "tie_rank": pl.Int64}))
    repeats = {"file": pl.String, "line": pl.Int64, "stamped_at_utc": pl.Datetime("us")}
    store.write("raw_event_repeats", pl.DataFrame(schema=repeats))
    store.write("site_settings", pl.DataFrame([SETTINGS.row()]))
    store.write(
        "site_months",
        pl.DataFrame(
            [
                ("2031-02", at("01-31 23:00:00"), at("02-28 23:00:00")),
                ("2031-03", at("02-28 23:00:00"), at("03-31 22:00:00")),
            ],
            schema={"month": pl.String, "started_at_utc": TIME, "ended_at_utc": TIME},
            orient="row",
        ),
    )
    _write_days(store)
    _write_clocks(store)
    _write_checks(store)


def _write_days(store: Store) -> None:
    """Days from midnight to midnight in Stockholm: 23:00 UTC, from 30 March on, when summer time begins, 22:00."""
    first = date(2031, 2, 1)
    days = [first + timedelta(days=number) for number in range(60)]
    hours = [22 if day > date(2031, 3, 30) else 23 for day in days]
    before = [day - timedelta(days=1) for day in days]
    midnights = [at(f"{day:%m-%d} {hour}:00:00") for day, hour in zip(before, hours, strict=True)]
    rows = [
        (day, f"{day:%Y-%m}", started, ended)
        for day, started, ended in zip(days[:-1], midnights[:-1], midnights[1:], strict=True)
    ]
    schema = {"day": pl.Date, "month": pl.String, "started_at_utc": TIME, "ended_at_utc": TIME}
    store.write("site_days", pl.DataFrame(rows, schema=schema, orient="row"))


def _write_clocks(store: Store) -> None:
    schema = {
        "machine": pl.String,
        "segment_no": pl.Int64,
        "started_at_utc": TIME,
        "ended_at_utc": TIME,
        "reference_at_utc": TIME,
        "offset_s": pl.Float64,
        "drift_ppm": pl.Float64,
        "within_s": pl.Float64,
        "pairs_count": pl.Int64,
        "is_corrected": pl.Boolean,
    }
    rows = [("T1", 1, None, None, at("03-01 00:00:00"), 2.0, 0.0, 0.25, 9, True)]
    store.write("raw_clock_segments", pl.DataFrame(rows, schema=schema, orient="row"))
    # Nine pairs, each 2 s ahead but for a tenth of a second either way; the last is the segment's reference.
    pairs = [("T1", 1, at(f"02-{20 + k:02} 00:00:00") - timedelta(seconds=2), k % 3 - 1) for k in range(8)] + [
        ("T1", 1, at("02-28 23:59:58"), 0)
    ]
    store.write(
        "raw_clock_pairs",
        pl.DataFrame(
            [(name, no, house, house + timedelta(seconds=2 + 0.1 * late)) for name, no, house, late in pairs],
            schema={"machine": pl.String, "segment_no": pl.Int64, "house_at_utc": TIME, "machine_at_utc": TIME},
            orient="row",
        ),
    )


def _write_checks(store: Store) -> None:
    store.write(
        "check_results",
        pl.DataFrame(
            [
                {
                    "check_id": "takes_fit",
                    "table_name": "core_takes",
                    "rule": "a take leaves the source that feeds",
                    "severity": "note",
                    "why": "a take that fits nothing hides another",
                    "touches": "air_s",
                    "found_count": 1,
                    "of_count": 4,
                    "is_passed": False,
                },
                {
                    "check_id": "files_whole",
                    "table_name": "source_files",
                    "rule": "every row ends in one place",
                    "severity": "stop",
                    "why": "figures from half a file mislead",
                    "touches": "air_s, lost_s",
                    "found_count": 1,
                    "of_count": 6,
                    "is_passed": False,
                },
                {
                    "check_id": "ids",
                    "table_name": "clean_bookings",
                    "rule": "a booking has one id",
                    "severity": "stop",
                    "why": "doubled bookings double hours",
                    "touches": "air_s",
                    "found_count": 0,
                    "of_count": 9,
                    "is_passed": True,
                },
            ]
        ),
    )
    store.write(
        "check_findings",
        pl.DataFrame(
            [
                {"check_id": "takes_fit", "feed": "switches", "file": "switches.csv", "line": 2, "what": HOSTILE},
                {
                    "check_id": "files_whole",
                    "feed": "events",
                    "file": "events.csv",
                    "line": None,
                    "what": "the file shrank",
                },
            ]
        ),
    )


def open_room(path: Path = Path(":memory:")) -> Store:
    """The small room in a database of its own, models built."""
    store, log = Store(path), Log()
    write_rows(log)
    write_tables(store, log)
    build_models(store)
    return store
