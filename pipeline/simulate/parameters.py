"""What a simulated room is made of: sizes, rates and a seed, each with its bounds.

Nothing else decides what is written, so that the same parameters give the same bytes.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pipeline.errors import QuestionError

SECOND = 1_000_000  # microseconds: every instant here is a whole number of them since 1970, UTC
DAY_S = 86_400
LONGEST_DAYS = 36_600
BOUNDS: dict[str, tuple[float, float]] = {
    "seed": (0, 2**63 - 1),
    "channels": (1, 99),
    "pairs": (1, 499),
    "months": (1, 1200),
    "days": (0, LONGEST_DAYS),
    "programmes": (1, 24),
    "lines": (0, 10**12),
    "lines_per_second": (0, 1000),
    "faults": (0, 10_000),
    "handovers": (0, 10_000),
    "unprotected": (0, 1),
    "missing": (0, 1),
    "clock_error": (0, 3600),
    "mess": (0, 0.5),
}


@dataclass(frozen=True)
class Parameters:
    """A room to simulate.

    ``programmes`` are a channel's transmissions a day; ``lines_per_second`` a machine's lines that say nothing new;
    ``lines``, unless 0, chooses them so that about so many event lines come out. ``faults`` and ``handovers`` are what
    befalls transmissions per 1,000 hours of air, at most one thing each; ``unprotected`` and ``missing`` the shares of
    transmissions with no protect booked and with a log that was never saved. ``clock_error`` is the largest error of a
    machine's clock in seconds (every third machine has one), ``mess`` the share of rows that come again, cannot be read
    or stand in another order. ``days``, unless 0, stands for ``months``.

    Raises:
        QuestionError: a value out of bounds, an unknown zone, more channels than pairs, shares above the whole.
    """

    seed: int = 1
    channels: int = 2
    pairs: int = 4
    months: int = 1
    days: int = 0
    first_day: date = date(2031, 3, 1)
    zone: str = "Europe/Stockholm"
    day_starts: str = "00:00"
    programmes: int = 12
    lines_per_second: float = 0.02
    lines: int = 0
    faults: float = 20.0
    handovers: float = 40.0
    unprotected: float = 0.02
    missing: float = 0.01
    clock_error: float = 0.0
    mess: float = 0.0

    def __post_init__(self) -> None:
        for name, (low, high) in BOUNDS.items():
            value = getattr(self, name)
            if not low <= value <= high:
                raise QuestionError(f'{_option(name)} "{value}" is out of bounds: {low} to {high}.')
        if self.channels > self.pairs:
            raise QuestionError(f'--channels "{self.channels}" needs as many pairs: --pairs is "{self.pairs}".')
        if self.unprotected + self.missing > 1:
            raise QuestionError(f'--unprotected "{self.unprotected}" and --missing "{self.missing}" are more than all.')
        _zone(self.zone)
        _time(self.day_starts)

    @property
    def started_us(self) -> int:
        """Local midnight of the first day."""
        return local_us(self.first_day, self.zone)

    @property
    def ended_us(self) -> int:
        """So many days of 24 hours on, or local midnight after the last month."""
        if self.days:
            return self.started_us + self.days * DAY_S * SECOND
        return local_us(add_months(self.first_day, self.months), self.zone)

    @property
    def machines(self) -> tuple[str, ...]:
        """Names of the machines, two a pair, all of one length."""
        digits = max(2, len(str(2 * self.pairs)))
        return tuple(f"VT{number:0{digits}}" for number in range(1, 2 * self.pairs + 1))

    def month_edges(self) -> list[tuple[str, int, int]]:
        """Local months of the broadcast day that the room touches: name, start and end in microseconds, UTC."""
        edges = []
        month = add_months(self.first_day.replace(day=1), -1)
        while local_us(month, self.zone, self.day_starts) < self.ended_us:
            after = add_months(month, 1)
            start, end = (local_us(day, self.zone, self.day_starts) for day in (month, after))
            if end > self.started_us:
                edges.append((f"{month:%Y-%m}", start, end))
            month = after
        return edges


def local_us(day: date, zone: str, at: str = "00:00") -> int:
    """The instant at which a local clock shows ``at`` on ``day``; the first of two where the hour is doubled."""
    local = datetime.combine(day, _time(at), tzinfo=_zone(zone))
    return round(local.timestamp()) * SECOND


def add_months(day: date, months: int) -> date:
    """The same day some months on, or the last day of a shorter month."""
    count = day.year * 12 + day.month - 1 + months
    first = date(count // 12, count % 12 + 1, 1)
    following = date((count + 1) // 12, (count + 1) % 12 + 1, 1)
    return min(first + timedelta(days=day.day - 1), following - timedelta(days=1))


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise QuestionError(f'--zone "{name}" is no time zone. Name one such as Europe/Stockholm.') from None


def _time(text: str) -> time:
    try:
        return time.fromisoformat(text)
    except ValueError:
        raise QuestionError(f'--day-starts "{text}" is no time of day. Name one such as 06:00.') from None


def _option(name: str) -> str:
    return "--" + name.replace("_", "-")
