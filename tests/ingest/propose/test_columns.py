"""Which column is which of ours, and that doubt is left standing."""

from __future__ import annotations

from collections import Counter

from pipeline.ingest.feeds import BOOKINGS, EVENTS, SWITCHES, TICKETS, Feed
from pipeline.ingest.propose.candidates import find_candidates
from pipeline.ingest.propose.columns import assign
from pipeline.ingest.propose.traits import describe

STAMPS = Counter(f"2031-03-09T20:00:{k:02d}" for k in range(40))
DAYS = Counter(f"2031-03-{k:02d}" for k in range(1, 30))
CLOCKS = Counter(f"20:{k:02d}" for k in range(40))
MACHINES = Counter({"VT1": 20, "VT2": 20})
EVENT_WORDS = Counter({"roll": 20, "stop": 20})
TEXTS = Counter({"no picture on the left": 20, "tape tore": 20})


def _assigned(feed: Feed, *columns: tuple[str, Counter[str]]) -> dict[str, tuple[str, ...]]:
    traits = [describe(header, place, counts) for place, (header, counts) in enumerate(columns)]
    return {match.ours.name: match.candidate.headers for match in assign(feed, find_candidates(traits)).matches}


def _open(feed: Feed, *columns: tuple[str, Counter[str]]) -> tuple[str, ...]:
    traits = [describe(header, place, counts) for place, (header, counts) in enumerate(columns)]
    return assign(feed, find_candidates(traits)).undecided


def test_names_and_contents_agree() -> None:
    columns = (("Zeit", STAMPS), ("Maschine", MACHINES), ("Ereignis", EVENT_WORDS))
    assert _assigned(EVENTS, *columns) == {"at": ("Zeit",), "machine": ("Maschine",), "event": ("Ereignis",)}
    assert _open(EVENTS, *columns) == ()


def test_a_name_alone_does_not_make_a_time() -> None:
    columns = (("time", TEXTS), ("machine", MACHINES), ("event", EVENT_WORDS))
    assert "at" not in _assigned(EVENTS, *columns)
    assert any(sentence.startswith('at: "time" is named like it, but') for sentence in _open(EVENTS, *columns))


def test_contents_alone_tell_times_machines_and_events() -> None:
    columns = (("a", STAMPS), ("b", MACHINES), ("c", EVENT_WORDS))
    assert _assigned(EVENTS, *columns) == {"at": ("a",), "machine": ("b",), "event": ("c",)}


def test_two_that_do_alike_are_left_open() -> None:
    columns = (("a", STAMPS), ("b", STAMPS), ("machine", MACHINES), ("event", EVENT_WORDS))
    assert "at" not in _assigned(EVENTS, *columns)
    assert any(sentence.startswith('at: "a" and "b" would do alike') for sentence in _open(EVENTS, *columns))


def test_contents_do_not_tell_which_machine_came_first() -> None:
    columns = (("x", MACHINES), ("y", MACHINES), ("when", STAMPS))
    assert _assigned(SWITCHES, *columns) == {"at": ("when",)}


def test_the_same_word_is_a_time_or_a_person_by_its_cells() -> None:
    people = Counter({"crew a": 20, "crew b": 20})
    columns = (
        ("Ticket", Counter(f"F{k}" for k in range(40))),
        ("Unit", MACHINES),
        ("Reported", STAMPS),
        ("Reported by", people),
    )
    assert _assigned(TICKETS, *columns) == {
        "ticket": ("Ticket",),
        "machine": ("Unit",),
        "opened": ("Reported",),
        "written_by": ("Reported by",),
    }


def test_a_date_goes_with_each_time_of_day() -> None:
    columns = (("Day", DAYS), ("Start", CLOCKS), ("End", CLOCKS))
    assert _assigned(BOOKINGS, *columns) == {"starts": ("Day", "Start"), "ends": ("Day", "End")}


def test_dates_and_times_of_the_same_name_go_together() -> None:
    columns = (("Opened date", DAYS), ("Closed date", DAYS), ("Opened time", CLOCKS), ("Closed time", CLOCKS))
    assert _assigned(TICKETS, *columns) == {
        "opened": ("Opened date", "Opened time"),
        "closed": ("Closed date", "Closed time"),
    }


def test_a_duration_is_no_time_of_day_of_an_opening() -> None:
    assert _assigned(TICKETS, ("Opened", DAYS), ("Duration", CLOCKS)) == {"opened": ("Opened",)}


def test_no_column_at_all() -> None:
    assert len(_open(EVENTS)) == len(EVENTS.required)
