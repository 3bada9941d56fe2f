"""The picture of a month's events: a row a pair, a column a day, a shape for each kind of event. No colour needed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from markupsafe import Markup, escape

from pipeline.render.figures_svg import Figure
from pipeline.render.language import date_in_words, say
from pipeline.render.month_events import KINDS, Day, EventRow, kind_name
from pipeline.render.palette import CHART_PX_PER_REM, FAINT, GRID, INK
from pipeline.render.words import counted, listed, month_name

LEFT, TOP, WIDTH = 92, 16, 640
ROWS_AT_MOST = 12
TALL, LOW = 20, 12  # heights of a row, and of a row where there are many
MANY = 6
PER_LINE = 2
# Each shape in a box of 6 by 6, so that it can be told from the others by a copier: full, empty, half, arc, bar, cross.
SHAPES = {
    "forced": f'<circle cx="3" cy="3" r="2.7" fill="{INK}"/>',
    "precaution": f'<circle cx="3" cy="3" r="2.4" fill="#fff" stroke="{INK}"/>',
    "unexplained": f'<path d="M3 0.2L5.8 3L3 5.8L0.2 3Z" fill="#fff" stroke="{INK}"/>',
    "healed": f'<path d="M0.5 5.2A2.6 3.6 0 0 1 5.5 5.2" fill="none" stroke="{INK}" stroke-width="1.3"/>',
    "other": f'<path d="M0.4 3H5.6" stroke="{INK}" stroke-width="2.6"/>',
    "failed": f'<path d="M0.4 0.4L5.6 5.6M5.6 0.4L0.4 5.6" stroke="{INK}" stroke-width="1.4"/>',
}
DEFS = (
    '<pattern id="day-off" width="4" height="4" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    f'<path d="M0 0V4" stroke="{FAINT}" stroke-width="0.9"/></pattern>'
    + "".join(f'<g id="mark-{kind}">{shape}</g>' for kind, shape in SHAPES.items())
)


def events_strip(rows: Sequence[EventRow], month: str) -> Figure:
    """The strip of at most ``ROWS_AT_MOST`` rows, those with most events; its words say what is drawn, and what not."""
    drawn = _drawn(rows)
    told = " ".join(map(_row_says, drawn))
    says = say("Events by pair and day, {month}. {rows}", month=month_name(month), rows=told)
    caption = say(
        "Events by pair and day. Hatched days had no air time; a crossed strip below marks a day with air of which the "
        "logs say nothing; days after the data end stay empty. A shape is one event; +2 stands for two more."
    )
    if len(drawn) < len(rows):
        some = say("Drawn are the {n} rows with most events of {all}.", n=len(drawn), all=len(rows))
        caption = f"{caption} {some}"
    return Figure(_svg(drawn, says), says, caption)


def _drawn(rows: Sequence[EventRow]) -> Sequence[EventRow]:
    if len(rows) <= ROWS_AT_MOST:
        return rows
    most = sorted(rows, key=lambda row: -sum(row.count(kind) for kind in KINDS))[:ROWS_AT_MOST]
    kept = {id(row) for row in most}
    return [row for row in rows if id(row) in kept]


def _svg(rows: Sequence[EventRow], says: str) -> Markup:
    dates = list(rows[0].days) if rows else []
    step = (WIDTH - LEFT) / max(len(dates), 1)
    tall = TALL if len(rows) <= MANY else LOW
    height = TOP + tall * len(rows) + 1
    inside = [_head(dates, step, height)]
    inside += [_row(row, TOP + tall * place, step, tall) for place, row in enumerate(rows)]
    label = Markup('<svg role="img" aria-label="{}" class="chart events" viewBox="0 0 {} {}" width="{:.2f}rem">')
    begun = label.format(says, WIDTH, height, WIDTH / CHART_PX_PER_REM)
    # The shapes are ours, and names are escaped where they are drawn.
    return begun + Markup(f"<defs>{DEFS}</defs>{''.join(inside)}</svg>")  # noqa: S704


def _head(dates: Sequence[date], step: float, height: float) -> str:
    """The days' numbers, and a line before every Monday."""
    numbers = "".join(
        f'<text x="{_at(LEFT + step * (place + 0.5))}" y="11" text-anchor="middle">{day.day}</text>'
        for place, day in enumerate(dates)
    )
    mondays = "".join(
        f"M{_at(LEFT + step * place)} 3V{_at(height)}" for place, day in enumerate(dates) if day.isoweekday() == 1
    )
    return f'{numbers}<path d="{mondays}" stroke="{FAINT}" stroke-width="0.8"/>' if mondays else numbers


def _row(row: EventRow, y: float, step: float, tall: float) -> str:
    name = row.name if len(row.name) <= 15 else row.name[:14] + "…"
    cells = "".join(
        _cell(day, LEFT + step * place, y, size=(step, tall), has_air=row.has_air)
        for place, day in enumerate(row.days.values())
    )
    return (
        f'<path d="M0 {_at(y)}H{WIDTH}" stroke="{GRID}"/>'
        f'<text x="0" y="{_at(y + tall / 2 + 4)}">{escape(name)}</text>{cells}'
    )


def _cell(day: Day, x: float, y: float, *, size: tuple[float, float], has_air: bool) -> str:
    step, tall = size
    if day.is_beyond:
        return ""
    if day.is_off and has_air:
        return f'<rect x="{_at(x)}" y="{_at(y)}" width="{_at(step)}" height="{_at(tall)}" fill="url(#day-off)"/>'
    box = f'x="{_at(x)}" y="{_at(y + tall - 6)}" width="{_at(step)}" height="6"'
    crossed = f'<rect {box} fill="url(#hatch-not-known)" stroke="{FAINT}" stroke-width="0.5"/>'
    under = crossed if day.unknown_s > 0 else ""
    return under + _marks(day.kinds, x, y, size)


def _marks(kinds: Mapping[str, int], x: float, y: float, size: tuple[float, float]) -> str:
    """Up to four shapes, two by two, in a low row up to two; of more as many less one, and how many more."""
    marks = [kind for kind in KINDS for _ in range(kinds.get(kind, 0))]
    step, tall = size
    most = PER_LINE * (2 if tall == TALL else 1)
    shown = marks if len(marks) <= most else marks[: most - 1]
    lines = 1 if len(marks) <= PER_LINE or most == PER_LINE else 2
    wide, high = step / PER_LINE, tall / lines
    drawn = "".join(
        f'<use href="#mark-{kind}" x="{_at(x + wide * (place % PER_LINE) + (wide - 6) / 2)}" '
        f'y="{_at(y + high * (place // PER_LINE) + (high - 6) / 2)}"/>'
        for place, kind in enumerate(shown)
    )
    more = len(marks) - len(shown)
    if not more:
        return drawn
    return f'{drawn}<text x="{_at(x + 1.5 * wide)}" y="{_at(y + tall - 1)}" text-anchor="middle">+{more}</text>'


def _at(number: float) -> str:
    return f"{number:.1f}".removesuffix(".0")


def _row_says(row: EventRow) -> str:
    kinds = [f"{row.count(kind)} × {kind_name(kind)}" for kind in KINDS if row.count(kind)]
    worst = max(row.days, key=lambda day: sum(row.days[day].kinds.values()), default=None)
    events = listed(kinds) if kinds else say("no event")
    most = say(", most on {day}", day=date_in_words(worst)) if worst and sum(row.days[worst].kinds.values()) > 1 else ""
    unknown = say(", the logs silent in {days}", days=counted(row.unknown_days, "day")) if row.unknown_days else ""
    if not row.has_air:
        return say("{name}: {events}{most}.", name=row.name, events=events, most=most)
    return say(
        "{name}, {days} on air: {events}{most}{unknown}.",
        name=row.name, days=counted(row.air_days, "day"), events=events, most=most, unknown=unknown,
    )  # fmt: skip


def mark_key() -> list[tuple[str, Markup]]:
    """Each kind with a small picture of its shape, for the key beneath the strip."""
    small = '<svg width="12" height="12" viewBox="-1 -1 8 8" aria-hidden="true">{}</svg>'
    return [(kind_name(kind), Markup(small.format(SHAPES[kind]))) for kind in KINDS]  # noqa: S704 - ours
