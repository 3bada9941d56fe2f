"""The door of the room: the database holds what the folder holds, whatever has happened to the folder."""

from __future__ import annotations

import hashlib
from dataclasses import FrozenInstanceError

import pytest

from pipeline.errors import FeedError

EVENTS = "at,machine,event,value,detail\n"


def _actions(site) -> dict[str, str]:
    return {load.file: load.action for load in site.load().files if load.action != "unchanged"}


def test_first_run_loads_and_the_second_changes_nothing(site) -> None:
    first = site.load()
    assert [(load.file, load.feed, load.action, load.rows) for load in first.files] == [
        ("events/a.csv", "events", "loaded", 1),
        ("switches.csv", "switches", "loaded", 1),
        ("tickets.csv", "tickets", "loaded", 1),
        ("bookings.csv", "bookings", "loaded", 1),
    ]
    assert first.is_changed
    content = (site.folder / "events/a.csv").read_bytes()
    assert first.files[0].sha256 == hashlib.sha256(content).hexdigest()
    before = site.dump()
    again = site.load()
    assert (again.is_changed, {load.action for load in again.files}) == (False, {"unchanged"})
    assert site.dump() == before
    with pytest.raises(FrozenInstanceError):
        again.is_changed = True


def test_changed_added_and_removed_files_leave_what_a_fresh_database_would_hold(site) -> None:
    site.write("events/b.csv", f"{EVENTS}2031-03-01T20:01:00,VT2,roll,,\nx,VT2,roll,,\n")
    site.load()
    site.write("events/a.csv", f"{EVENTS}2031-03-01T20:02:00,VT3,roll,,\nbad\n")
    (site.folder / "events/b.csv").unlink()
    site.write("machines.csv", "machine,kind\nVT1,two-inch\n")
    assert _actions(site) == {"events/a.csv": "reloaded", "events/b.csv": "gone", "machines.csv": "loaded"}
    after = site.dump()
    site.database.unlink()
    site.load()
    assert site.dump() == after
    assert [row["machine"] for row in after["raw_events"]] == ["VT3"]
    assert [(row["file"], row["line"]) for row in after["raw_set_aside"]] == [("events/a.csv", 3)]


def test_the_same_rows_in_other_files_are_read_again_not_merged(site) -> None:
    site.write("events/b.csv", (site.folder / "events/a.csv").read_bytes())
    site.load()
    assert site.rows("select file, line from raw_events order by file") == [
        {"file": "events/a.csv", "line": 2},
        {"file": "events/b.csv", "line": 2},
    ]


def test_another_time_zone_reads_every_file_again(site) -> None:
    site.load()
    site.settings("UTC")
    result = site.load()
    assert {load.action for load in result.files} == {"reloaded"}
    assert result.notes == ("The time zone was Europe/Stockholm, now UTC: all files are read again.",)
    # 20:00 without an offset is 19:00 UTC in Stockholm in winter (CET, +1).
    assert [row["stamped_at_utc"].hour for row in site.rows("select stamped_at_utc from raw_events")] == [20]
    site.settings("UTC", day_starts="06:00")
    assert site.load().is_changed
    assert not site.load().is_changed
    assert [row["started_at_utc"].hour for row in site.rows("select started_at_utc from site_months")] == [6]


@pytest.mark.parametrize(
    ("file", "content", "words"),
    [
        ("events/a.csv", "", r"^events/a.csv is empty\. Expected a header line with at, machine, event"),
        ("switches.csv", "\n\n", r"^switches.csv is empty"),
        ("tickets.csv", b"\xef\xbb\xbf", r"^tickets.csv is empty"),
        (
            "bookings.csv",
            "booking,transmission,channel,machine,role,starts,ends\n",
            "^No row of bookings is usable. The files hold",
        ),
        (
            "bookings.csv",
            "booking,transmission,channel,machine,role,starts,ends\nB1,X,One,VT1,on,a,b\n",
            '^No row of bookings is usable. The first was set aside: bookings.csv, line 2: "on" is not a role',
        ),
    ],
)
def test_a_feed_without_a_usable_row_is_refused_and_nothing_changes(site, file: str, content, words: str) -> None:
    site.load()
    before = site.dump()
    site.write(file, content)
    with pytest.raises(FeedError, match=words):
        site.load()
    assert site.dump() == before


def test_an_empty_file_among_others_and_a_feed_with_a_header_only_are_no_error(site) -> None:
    site.write("events/b.csv", "")
    site.write("tickets.csv", "ticket,machine,opened\n")
    site.write("reels.csv", "")
    site.load()
    counts = {row["file"]: row["read_count"] for row in site.rows("select file, read_count from source_files")}
    assert counts == {
        "events/a.csv": 1,
        "events/b.csv": 0,
        "switches.csv": 1,
        "tickets.csv": 0,
        "bookings.csv": 1,
        "reels.csv": 0,
    }


def test_events_or_switches_alone_will_do_but_not_neither(site) -> None:
    site.write("events/a.csv", EVENTS)
    site.load()
    site.write("switches.csv", "at,action,channel,from_machine,to_machine\n")
    with pytest.raises(FeedError, match=r"^No row of events or switches is usable"):
        site.load()


def test_hostile_texts_go_in_and_come_out(site) -> None:
    details = ["<script>alert(1)</script>", '=cmd|"x"!A1', "'; drop table raw_events; --", "\u202e", "x" * 5_000_000]
    rows = "".join('2031-03-01T20:00:00,VT1,alarm,,"{}"\n'.format(text.replace('"', '""')) for text in details)
    site.write("events/a.csv", f"{EVENTS}{rows}2031-03-01T20:00:00,VT1,al\x00arm,,\n")
    site.load()
    assert [row["detail"] for row in site.rows("select detail from raw_events order by line")] == details
    (aside,) = site.rows("select line, text, reason from raw_set_aside")
    assert (aside["line"], aside["text"]) == (7, "2031-03-01T20:00:00,VT1,al\\x00arm,,")


def test_two_thousand_columns(site) -> None:
    names = ",".join(f"c{k}" for k in range(2000))
    cells = ",".join("v" for _ in range(2000))
    site.write("events/a.csv", f"at,machine,event,{names}\n" + f"2031-03-01T20:00:00,VT1,roll,{cells}\n" * 3)
    site.load()
    assert site.rows("select json_array_length(json_keys(extra)) as n from raw_events limit 1") == [{"n": 2000}]
