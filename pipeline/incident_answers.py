"""What happened then: finds the incident or the stretch of time a person asks about, and makes its page and its text.

The database is only read, and of it only what lies around that moment.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from pipeline import outputs
from pipeline.answers import figures_of, open_own_run, settings_of
from pipeline.asked_time import Asked, read_asked
from pipeline.errors import QuestionError
from pipeline.places import REPORTS
from pipeline.render.incident_text import incident_data, incident_text
from pipeline.render.language import speaking
from pipeline.render.sheet import WINDOW, slug
from pipeline.render.shown import Window
from pipeline.render.window import add_page, render_window
from pipeline.render.words import Local
from pipeline.settings import Settings
from pipeline.store import Store

NEAR, NAMED = 3, 20  # names told in one line
MINUTE_S = 60
LONGEST = timedelta(hours=24)  # beyond it a page is too long to be read or sent
SHOWN_LENGTH = 60  # characters of what was typed
OF_ID = "select incident, channel, started_at_utc, ended_at_utc from core_incidents where incident = ?"
IDS = "select incident from core_incidents order by started_at_utc, incident"
CHANNELS = """
select channel from clean_bookings where channel is not null
union select channel from clean_switches where channel is not null
order by channel
"""
HOLDING = """
select i.incident, i.channel, i.started_at_utc, i.ended_at_utc
from core_incidents as i
where i.started_at_utc < ? and i.ended_at_utc >= ?
    and exists (select 1 from core_incident_recoveries as r where r.incident = i.incident and r.channel = ?)
order by i.started_at_utc, i.incident
"""
FIRST = """
select min(at_utc)
from (select first_at_utc as at_utc from core_heard_spans union all select at_utc from clean_switches)
"""


@dataclass(frozen=True)
class Question:
    """An incident's id, or a time, perhaps until another, on a channel; all as typed, what is not said is empty."""

    incident: str = ""
    at: str = ""
    until: str = ""
    channel: str = ""


@dataclass(frozen=True)
class Answer:
    """The page, and what it says as text and as plain values; ``has_run`` where a run left its pages beside it."""

    page: Path
    text: str
    data: dict[str, Any]
    has_run: bool


def answer_incident(site: Path, question: Question, *, out: Path | None = None, database: Path | None = None) -> Answer:
    """Find what ``question`` asks about, tell it, and write its page into ``out`` (``site``/reports unless named).

    Raises:
        QuestionError: there is no such incident or channel, or the time cannot be read or lies outside the data.
        StoreError: there was no run yet, or it was made by another version.
        OutputError: the out folder cannot be written, or a run is writing there.
    """
    target = out if out is not None else site / REPORTS
    with open_own_run(site, database) as store:
        settings = settings_of(store)
        window = find_window(store, settings, question)
        with speaking(settings.language, settings.locale):
            page = render_window(store, settings, figures_of(store), window)
            text, data = incident_text(page.sheet, page.reading), incident_data(page.sheet, page.reading)
    with outputs.out_folder(target):
        path = add_page(target, page)
    return Answer(path, text, data, has_run=(target / "index.html").is_file())


def find_window(store: Store, settings: Settings, question: Question) -> Window:
    """The incident of that id; else the one that holds the time on the channel; else the time itself.

    Raises:
        QuestionError: see `answer_incident`.
    """
    if question.incident and (question.at or question.until or question.channel):
        raise QuestionError("Name an incident by its id, or a time with --at and a channel with --channel, not both.")
    if question.incident:
        return _by_id(store, question.incident)
    if not question.at:
        raise QuestionError("Name an incident by its id, or a time with --at and a channel with --channel.")
    asked = _asked(question, settings)
    _require_data(store, settings, asked, question.at)
    channels = store.read(CHANNELS)["channel"].to_list()
    channel = _channel(channels, question.channel)
    holding = store.read(HOLDING, [asked.ended_at_utc, asked.started_at_utc, channel]).rows()
    if len(holding) == 1 and (not question.until or _is_around(holding[0], asked, settings.lead_s)):
        return Window(*holding[0])
    return Window(_name(asked, channel, channels), channel, asked.started_at_utc, asked.ended_at_utc)


def _by_id(store: Store, typed: str) -> Window:
    name = Path(typed.strip()).name.removesuffix(".html").removeprefix("incident-")
    found = store.read(OF_ID, [name]).rows()
    if found:
        return Window(*found[0])
    known = store.read(IDS)["incident"].to_list()
    near = get_close_matches(name, known, n=NEAR, cutoff=0.5)
    hint = f"Near it: {', '.join(near)}." if near else f"The pages of the months name all {len(known)}."
    raise QuestionError(f'There is no incident "{_shown(typed)}". {hint if known else "The room has none."}')


def _asked(question: Question, settings: Settings) -> Asked:
    asked = read_asked(question.at, settings.zone)
    if not question.until:
        return asked
    until = read_asked(question.until, settings.zone).started_at_utc
    if until <= asked.started_at_utc:
        raise QuestionError(
            f'--until "{_shown(question.until)}" does not come after --at "{_shown(question.at)}". Name a later time.'
        )
    if until - asked.started_at_utc > LONGEST:
        raise QuestionError(f"A page shows at most {LONGEST // timedelta(hours=1)} h. Name a shorter time.")
    return Asked(asked.started_at_utc, until)


def _require_data(store: Store, settings: Settings, asked: Asked, typed: str) -> None:
    first, last = store.value(FIRST), store.value("select as_of_at_utc from core_as_of")
    if first is None or last is None:
        raise QuestionError("The data hold no time at all: no machine and no selector has logged anything.")
    if asked.ended_at_utc <= first or asked.started_at_utc > last:
        local = Local(settings.zone)
        raise QuestionError(
            f'"{_shown(typed)}" lies outside the data, which go from {local.when(first)} to {local.when(last)}.'
        )


def _channel(channels: list[str], typed: str) -> str:
    """The channel as typed, or the one that differs in capitals only; one that is alone need not be named."""
    if not typed and len(channels) == 1:
        return channels[0]
    alike = [name for name in channels if name.casefold() == typed.strip().casefold()]
    if typed in channels or len(alike) == 1:
        return typed if typed in channels else alike[0]
    more = f" and {len(channels) - NAMED} more" if len(channels) > NAMED else ""
    named = f"The channels are {', '.join(_shown(name) for name in channels[:NAMED])}{more}."
    if not typed:
        raise QuestionError(f"A time needs a channel: name it with --channel. {named}")
    raise QuestionError(f'There is no channel "{_shown(typed)}". {named}')


def _is_around(incident: tuple[Any, ...], asked: Asked, lead_s: float) -> bool:
    """Whether the incident's page, from the lead before it to the lead after it, shows all that was asked for."""
    _, _, started, ended = incident
    before, after = started - asked.started_at_utc, asked.ended_at_utc - ended
    return bool(max(before, after).total_seconds() <= lead_s)


def _name(asked: Asked, channel: str, channels: list[str]) -> str:
    """The name of a page: no two stretches and no two channels of a room share one."""
    alike = [name for name in channels if slug(name) == slug(channel)]
    ordinal = f"-{alike.index(channel) + 1}" if alike.index(channel) else ""
    until = asked.ended_at_utc
    is_minute = (until - asked.started_at_utc).total_seconds() == MINUTE_S
    rest = "" if is_minute else f"-to-{_digits(until)}"
    return f"{WINDOW}{_digits(asked.started_at_utc)}-{slug(channel)}{ordinal}{rest}"


def _digits(at_utc: datetime) -> str:
    return at_utc.strftime("%Y%m%d-%H%M%S")


def _shown(text: str) -> str:
    kept = "".join(letter if letter.isprintable() else " " for letter in text.strip())
    return kept if len(kept) <= SHOWN_LENGTH else f"{kept[:SHOWN_LENGTH]}…"
