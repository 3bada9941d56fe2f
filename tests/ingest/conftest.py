"""A small invented site that loads, to be bent by each test."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from pipeline.results import LoadResult
from pipeline.settings import read_settings
from pipeline.store import Store

TOML = """
name = "Invented room"
timezone = "{zone}"
day_starts = "{day_starts}"
frame_rate = 25
"""
EVENTS = "at,machine,event,value,detail\n2031-03-01T20:00:00,VT1,roll,,\n"
SWITCHES = "at,action,channel,from_machine,to_machine,reason,by\n2031-03-01T20:10:00,take,One,VT1,VT2,fault,ab\n"
TICKETS = "ticket,machine,opened\nT1,VT1,2031-03-01T20:15:00\n"
BOOKINGS = (
    "booking,transmission,channel,programme,show,reel,machine,role,starts,ends\n"
    "B1,X1,One,Harbour News,,R1,VT1,air,2031-03-01T20:00:00,2031-03-01T20:30:00\n"
)


@dataclass
class Site:
    folder: Path
    database: Path
    result: LoadResult | None = field(default=None)

    def write(self, name: str, content: str | bytes) -> Path:
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    def settings(self, zone: str = "Europe/Stockholm", day_starts: str = "00:00") -> None:
        self.write("site.toml", TOML.format(zone=zone, day_starts=day_starts))

    def load(self) -> LoadResult:
        from pipeline.ingest import load_site

        with Store(self.database) as store, store.transaction():
            return load_site(self.folder, read_settings(self.folder), store)

    def rows(self, sql: str) -> list[dict[str, Any]]:
        with Store(self.database) as store:
            return store.read(sql).to_dicts()

    def dump(self) -> dict[str, list[dict[str, Any]]]:
        """Every table but the history of loads and the times of the files, which tell by which way the rows came."""
        with Store(self.database) as store:
            tables = store.read(
                "select table_name from information_schema.tables"
                " where table_name not in ('load_history', 'source_file_times') order by 1"
            )["table_name"]
            return {table: store.read(f"select * from {table} order by all").to_dicts() for table in tables}

    def withdraw(self, file: str) -> bool:
        from pipeline.ingest import withdraw

        with Store(self.database) as store:
            return withdraw(store, file)


@pytest.fixture
def site(tmp_path: Path) -> Site:
    made = Site(tmp_path / "site", tmp_path / "site.duckdb")
    made.settings()
    made.write("events/a.csv", EVENTS)
    made.write("switches.csv", SWITCHES)
    made.write("tickets.csv", TICKETS)
    made.write("bookings.csv", BOOKINGS)
    return made


@pytest.fixture
def zstd_frame() -> Callable[[bytes], bytes]:
    return _zstd_frame


def _zstd_frame(data: bytes) -> bytes:
    """A Zstandard frame of raw blocks as RFC 8878 section 3.1.1 lays it out, so that no packer is needed.

    Descriptor 0xA0: content size in four bytes, single segment. A raw block's header: last flag, type 0, size << 3.
    """
    parts = [data[k : k + 100_000] for k in range(0, len(data), 100_000)] or [b""]
    blocks = [((len(part) << 3) | (k == len(parts) - 1)).to_bytes(3, "little") + part for k, part in enumerate(parts)]
    return b"\x28\xb5\x2f\xfd\xa0" + len(data).to_bytes(4, "little") + b"".join(blocks)
