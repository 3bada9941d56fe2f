"""The seven feeds as data: their columns, what a cell may hold, and the table that takes them.

Readers, typing and the tables are all driven by these definitions, so that a column is described once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "time", "number", "word"]
TIMESTAMP = "TIMESTAMP"


@dataclass(frozen=True)
class Column:
    """One canonical column: its header in the files, and what its cells become.

    ``stored`` is its name in the table; of a time the instant's, in naive UTC. ``is_required`` asks for the header,
    ``is_filled`` for a cell in every row. ``keeps`` names what a time leaves beside its instant.
    """

    name: str
    kind: Kind = "text"
    stored: str = ""
    is_required: bool = False
    is_filled: bool = False
    words: tuple[str, ...] = ()
    keeps: tuple[str, ...] = ()

    @property
    def table_columns(self) -> tuple[tuple[str, str], ...]:
        """Name and database type of each table column this one fills."""
        sql_type = {"text": "VARCHAR", "word": "VARCHAR", "number": "DOUBLE", "time": TIMESTAMP}[self.kind]
        kept = tuple((name, KEPT_TYPES[name]) for name in self.keeps)
        return (*kept[:1], (self.stored or self.name, sql_type), *kept[1:])


@dataclass(frozen=True)
class Feed:
    """One feed. ``pattern`` is the default path as a person would write it; its rows go to ``raw_<name>``."""

    name: str
    pattern: str
    columns: tuple[Column, ...]
    is_required: bool = True

    @property
    def table(self) -> str:
        """The table of its readable rows."""
        return f"raw_{self.name}"

    @property
    def required(self) -> tuple[str, ...]:
        """Headers a file cannot do without."""
        return tuple(column.name for column in self.columns if column.is_required)

    @property
    def table_columns(self) -> tuple[tuple[str, str], ...]:
        """Name and database type of every column of the table, in order. Grain: one readable row; key: file, line."""
        head = (("file", "VARCHAR"), ("line", "BIGINT"), ("text", "VARCHAR"))
        own = tuple(pair for column in self.columns for pair in column.table_columns)
        return (*head, *own, ("extra", "VARCHAR"))


KEPT_TYPES = {"at_text": "VARCHAR", "is_ambiguous": "BOOLEAN", "stamp_digits": "TINYINT"}

EVENTS = Feed(
    "events",
    "events/*.csv",
    (
        Column("at", "time", "stamped_at_utc", True, True, keeps=("at_text", "is_ambiguous", "stamp_digits")),
        Column("machine", is_required=True, is_filled=True),
        Column(
            "event",
            "word",
            is_required=True,
            is_filled=True,
            words=(
                *("roll", "stop", "lock", "unlock", "picture_lost", "picture_back", "sound_lost", "sound_back"),
                *("offset", "alarm", "clear", "clean", "lineup", "head_fitted", "part_fitted", "hours"),
                *("record_on", "record_off", "clock", "alive"),
            ),
        ),
        Column("value", "number"),
        Column("detail"),
    ),
)

SWITCHES = Feed(
    "switches",
    "switches.csv",
    (
        Column("at", "time", "at_utc", True, True, keeps=("at_text", "is_ambiguous")),
        Column("action", "word", is_required=True, is_filled=True, words=("take", "start")),
        Column("channel", is_required=True, is_filled=True),
        Column("from_machine", is_required=True),
        Column("to_machine", is_required=True, is_filled=True),
        Column("reason", "word", words=("fault", "precaution", "planned", "rehearsal", "return")),
        Column("by", stored="taken_by"),
    ),
)

TICKETS = Feed(
    "tickets",
    "tickets.csv",
    (
        Column("ticket", is_required=True, is_filled=True),
        Column("machine", is_required=True),
        Column("opened", "time", "opened_at_utc", True),
        Column("restored", "time", "restored_at_utc"),
        Column("closed", "time", "closed_at_utc"),
        *(Column(name) for name in ("symptom", "cause", "action", "part")),
        Column("labour_hours", "number", "labour_h"),
        Column("parts_cost", "number"),
        Column("reel"),
        Column("written_by"),
    ),
)

BOOKINGS = Feed(
    "bookings",
    "bookings.csv",
    (
        Column("booking", is_required=True, is_filled=True),
        Column("transmission", is_required=True),
        Column("channel", is_required=True),
        *(Column(name) for name in ("programme", "show", "reel")),
        Column("machine", is_required=True, is_filled=True),
        Column(
            "role",
            "word",
            is_required=True,
            is_filled=True,
            words=("air", "protect", "record", "record_protect", "dub", "maintenance"),
        ),
        Column("starts", "time", "started_at_utc", True, True),
        Column("ends", "time", "ended_at_utc", True, True),
    ),
)

MACHINES = Feed(
    "machines",
    "machines.csv",
    (
        Column("machine", is_required=True, is_filled=True),
        Column("kind"),
        Column("pair"),
        Column("group", stored="machine_group"),
        Column("installed", "time", "installed_at_utc"),
        Column("retired", "time", "retired_at_utc"),
        Column("replacement_cost", "number"),
    ),
    is_required=False,
)

REELS = Feed(
    "reels",
    "reels.csv",
    (
        Column("reel", is_required=True, is_filled=True),
        *(Column(name) for name in ("programme", "show", "recorded_on", "recorded_by")),
        Column("recorded_at", "time", "recorded_at_utc"),
    ),
    is_required=False,
)

RULINGS = Feed(
    "rulings",
    "rulings.csv",
    (
        Column("ruling", is_required=True, is_filled=True),
        Column("rules", "word", is_required=True, is_filled=True, words=("switch", "cause", "one incident", "not air")),
        Column("channel"),
        Column("at", "time", "at_utc", True, True),
        Column("until", "time", "until_utc"),
        Column("says"),
        Column("by", stored="ruled_by"),
        Column("decided", "time", "decided_at_utc"),
        Column("why", is_required=True, is_filled=True),
    ),
    is_required=False,
)

FEEDS = (EVENTS, SWITCHES, TICKETS, BOOKINGS, MACHINES, REELS, RULINGS)
EXPORTED = tuple(feed for feed in FEEDS if feed is not RULINGS)
"""What a room's own systems may export; rulings are written by hand for this program."""
