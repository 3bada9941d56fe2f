"""What a strip is made of: the scene as read, the axis of time, and the stretches and marks that lie on its lanes."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from pipeline.render.log_words import event_word
from pipeline.render.reading import Row, Rows
from pipeline.render.strip_marks import Mark

LEFT, RIGHT, WIDTH = 132.0, 10.0, 880.0


@dataclass(frozen=True)
class Shape:
    """Where things stand, in SVG units; ``head`` is kept free over each lane for its name, where none is beside it."""

    left: float = LEFT
    width: float = WIDTH
    head: float = 0.0
    most_ticks: int = 9
    levels: int = 4


WIDE = Shape()
NARROW = Shape(left=2.0, width=340.0, head=16.0, most_ticks=3, levels=6)  # a phone held upright


@dataclass(frozen=True)
class Scene:
    """What happened on one channel in a window. Rows as read; instants naive UTC; machines from top to bottom.

    ``keys`` are the instants named above the strip; ``tolerance_s`` is how far apart a pair in step may be.
    """

    channel: str
    machines: tuple[str, ...]
    roles: dict[str, str]
    feeds: Rows
    spans: Rows
    states: Rows
    not_known: Rows
    motions: Rows
    offsets: Rows
    events: Rows
    tickets: Rows
    maintenance: Rows
    keys: tuple[tuple[datetime, str], ...]
    tolerance_s: float
    pair_states: Rows = field(default_factory=list)
    others_states: Rows = field(default_factory=list)
    others_events: Rows = field(default_factory=list)
    others_last: Rows = field(default_factory=list)


@dataclass(frozen=True)
class Bar:
    """A stretch on a lane; ``fill`` is the name of a hatch, "stopped" a thin line."""

    x: float
    width: float
    fill: str


@dataclass(frozen=True)
class Lane:
    """One row of the strip; dots are (x, y, is within tolerance).

    ``kind``: source, machine, air, offset, row, step (a pair) or room (a machine that is not of the incident).
    """

    kind: str
    name: str
    note: str
    y: float
    height: float
    bars: tuple[Bar, ...] = ()
    marks: tuple[Mark, ...] = ()
    dots: tuple[tuple[float, float, bool], ...] = ()


@dataclass(frozen=True)
class Axis:
    """Time from left to right."""

    started: datetime
    ended: datetime
    shape: Shape = WIDE

    def x(self, at: datetime) -> float:
        """Where an instant stands, held inside the window."""
        part = (at - self.started) / (self.ended - self.started)
        left = self.shape.left
        return round(left + min(max(part, 0.0), 1.0) * (self.shape.width - left - RIGHT), 1)

    def holds(self, at: datetime) -> bool:
        """Whether an instant is in the window."""
        return self.started <= at <= self.ended

    def bar(self, started: datetime, ended: datetime | None, fill: str) -> Bar | None:
        """The part of a stretch inside the window, at least a hair wide; None outside it."""
        if started >= self.ended or (ended is not None and ended <= self.started):
            return None
        x = self.x(started)
        return Bar(x, max(round(self.x(ended or self.ended) - x, 1), 0.8), fill)

    def within(self, rows: Rows) -> Rows:
        """Rows that last inside the window; a stay of no length, where two takes share a stamp, is none."""
        return [row for row in rows if max(row["started_at_utc"], self.started) < min(row["ended_at_utc"], self.ended)]


def event_words(row: Row) -> str:
    """An event of a machine in words."""
    words = event_word(str(row["event"]))
    return f"{words}: {row['detail']}" if row["detail"] else words
