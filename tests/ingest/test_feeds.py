"""The feed definitions against the site contract, section 2, written out by hand; rulings are the program's own."""

from __future__ import annotations

from pipeline.ingest.feeds import BOOKINGS, EVENTS, FEEDS, MACHINES, REELS, RULINGS, SWITCHES, TICKETS

CONTRACT = {
    "events": "at, machine, event, value, detail",
    "switches": "at, action, channel, from_machine, to_machine, reason, by",
    "tickets": "ticket, machine, opened, restored, closed, symptom, cause, action, part, labour_hours, parts_cost, "
    "reel, written_by",
    "bookings": "booking, transmission, channel, programme, show, reel, machine, role, starts, ends",
    "machines": "machine, kind, pair, group, installed, retired, replacement_cost",
    "reels": "reel, programme, show, recorded_on, recorded_by, recorded_at",
    "rulings": "ruling, rules, channel, at, until, says, by, decided, why",
}
EVENT_WORDS = (
    "roll stop lock unlock picture_lost picture_back sound_lost sound_back offset alarm clear clean lineup head_fitted "
    "part_fitted hours record_on record_off clock alive"
)


def test_columns_are_those_of_the_contract_in_its_order() -> None:
    assert {feed.name: ", ".join(column.name for column in feed.columns) for feed in FEEDS} == CONTRACT


def test_the_first_four_feeds_are_required() -> None:
    assert [feed for feed in FEEDS if feed.is_required] == [EVENTS, SWITCHES, TICKETS, BOOKINGS]
    assert [feed for feed in FEEDS if not feed.is_required] == [MACHINES, REELS, RULINGS]


def test_words_are_those_of_the_contract() -> None:
    words = {
        (feed.name, column.name): " ".join(column.words) for feed in FEEDS for column in feed.columns if column.words
    }
    assert words == {
        ("events", "event"): EVENT_WORDS,
        ("switches", "action"): "take start",
        ("switches", "reason"): "fault precaution planned rehearsal return",
        ("bookings", "role"): "air protect record record_protect dub maintenance",
        ("rulings", "rules"): "switch cause one incident not air",
    }


def test_instants_end_in_at_utc_and_each_table_ends_in_extra() -> None:
    for feed in FEEDS:
        names = dict(feed.table_columns)
        instants = [name for name, kind in names.items() if kind == "TIMESTAMP"]
        assert all(name.endswith("_at_utc") or name in ("at_utc", "until_utc") for name in instants)
        assert [*names][:3] == ["file", "line", "text"]
        assert [*names][-1] == "extra"
