"""Which kind of feed a file is."""

from __future__ import annotations

from collections import Counter

import pytest

from pipeline.errors import FeedError
from pipeline.ingest.feeds import EXPORTED
from pipeline.ingest.propose.candidates import find_candidates
from pipeline.ingest.propose.kinds import choose_kind
from pipeline.ingest.propose.traits import describe

CELLS = {
    "time": Counter(f"2031-03-09T20:00:{k:02d}" for k in range(40)),
    "number": Counter({"0.5": 20, "1.5": 20}),
    "machine": Counter({"VT1": 20, "VT2": 20}),
    "key": Counter(f"K-{k:04d}" for k in range(40)),
    "text": Counter({"one thing": 20, "or another": 20}),
}


def _candidates(columns: dict[str, str]):
    return find_candidates([describe(name, place, CELLS[kind]) for place, (name, kind) in enumerate(columns.items())])


@pytest.mark.parametrize("feed", EXPORTED, ids=lambda feed: feed.name)
def test_our_own_columns_tell_their_feed(feed) -> None:
    kinds = {
        column.name: "machine"
        if "machine" in column.name
        else {"time": "time", "number": "number"}.get(column.kind, "text")
        for column in feed.columns
    }
    kinds[feed.required[0]] = "time" if feed.required[0] == "at" else "key"
    choice = choose_kind("export.csv", "csv", _candidates(kinds))
    assert choice.feed is feed
    assert choice.doubt == ""


def test_machines_that_come_again_are_no_register() -> None:
    candidates = _candidates({"machine": "machine", "kind": "text"})
    with pytest.raises(FeedError, match="like no feed"):
        choose_kind("export.csv", "csv", candidates)


def test_formats_that_are_mostly_one_kind() -> None:
    assert choose_kind("a", "syslog", _candidates({"msg": "text"})).feed.name == "events"
    assert choose_kind("a", "calendar", _candidates({"summary": "text"})).feed.name == "bookings"
    assert choose_kind("a", "syslog", _candidates({"msg": "text"}), "tickets").feed.name == "tickets"
