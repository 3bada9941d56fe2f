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
    assert _actions(site) == {"events/a.csv": "changed", "events/b.csv": "gone", "machines.csv": "loaded"}
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
    assert {load.action for load in result.files} == {"read again"}
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


def test_nuls_in_a_row_are_counted(site) -> None:
    """What a logger leaves that lost its power; eight are still shown one by one."""
    site.write("events/a.csv", EVENTS + "\x00" * 4096 + "b" + "\x00" * 8 + "\n")
    site.load()
    (aside,) = site.rows("select text from raw_set_aside")
    assert aside["text"] == "\\x00 (4096 times)b" + "\\x00" * 8


def test_two_thousand_columns(site) -> None:
    names = ",".join(f"c{k}" for k in range(2000))
    cells = ",".join("v" for _ in range(2000))
    site.write("events/a.csv", f"at,machine,event,{names}\n" + f"2031-03-01T20:00:00,VT1,roll,{cells}\n" * 3)
    site.load()
    assert site.rows("select json_array_length(json_keys(extra)) as n from raw_events limit 1") == [{"n": 2000}]


def _fresh(site) -> dict[str, list[dict[str, object]]]:
    """What a new database holds after the same folder was loaded at once."""
    database, site.database = site.database, site.folder.parent / "fresh.duckdb"
    site.database.unlink(missing_ok=True)
    site.load()
    fresh = site.dump()
    site.database = database
    return fresh


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_of_a_file_that_grew_only_the_tail_is_read(site, line_end: str) -> None:
    lines = [
        "at,machine,event,value,detail",
        "2031-03-01T20:00:00,VT1,roll,,",
        "",
        '2031-03-01T20:00:09,VT1,alarm,,"a\nb"',
    ]
    more = ["2031-03-01T20:01:00,VT1,lock,,", "bad", "2031-03-01T20:02:00,VT1,stop,,"]
    site.write("events/a.csv", line_end.join([*lines, ""]))
    site.load()
    site.write("events/a.csv", line_end.join([*lines, *more, ""]))
    load = next(load for load in site.load().files if load.file == "events/a.csv")
    assert (load.action, load.rows) == ("grown", 3)
    assert site.dump() == _fresh(site)
    # lines by hand: header 1, roll 2, empty 3, alarm 4 and 5, then the tail
    assert [row["line"] for row in site.rows("select line from raw_events order by line")] == [2, 4, 6, 8]
    assert [row["line"] for row in site.rows("select line from raw_set_aside")] == [7]


def test_json_lines_grow_too(site) -> None:
    (site.folder / "events/a.csv").unlink()
    one = '{"at":"2031-03-01T20:00:00","machine":"VT1","event":"roll"}\n'
    site.write("events/a.jsonl", one)
    site.load()
    site.write("events/a.jsonl", one + one.replace("roll", "offset").replace("}", ',"value":0.1}'))
    assert _actions(site) == {"events/a.jsonl": "grown"}
    assert site.dump() == _fresh(site)


ROLL, STOP = "2031-03-01T20:00:00,VT1,roll,,", "2031-03-01T20:01:00,VT1,stop,,\n"
FIRST_PASS, SECOND_PASS = "2031-10-26T02:30:00,VT1,roll,,\n", "2031-10-26T02:10:00,VT1,stop,,\n"


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (ROLL, f"{ROLL}x\n"),  # the last line was not finished: what follows may be its end
        (f"{ROLL}\n", f"{ROLL.replace('20:00:00', '20:00:01')}\n{STOP}"),  # something before the tail is another
        (f"{ROLL}\n{STOP}", f"{ROLL}\n"),  # shorter
        (f'{ROLL}\n2031-03-01T20:00:09,VT1,alarm,,"a\n', f'{ROLL}\n2031-03-01T20:00:09,VT1,alarm,,"a\nb"\n'),  # a quote
        (FIRST_PASS, FIRST_PASS + SECOND_PASS),  # a doubled hour, which the lines to come may settle
    ],
)
def test_what_is_no_mere_growth_is_superseded_as_a_whole(site, before: str, after: str) -> None:
    site.write("events/a.csv", EVENTS + before)
    site.load()
    site.write("events/a.csv", EVENTS + after)
    assert _actions(site) == {"events/a.csv": "changed"}
    assert site.dump() == _fresh(site)


def test_a_file_withdrawn_is_out_exactly_and_stays_out_until_it_changes(site) -> None:
    site.load()
    without = site.dump()
    site.write("events/b.csv", f"{EVENTS}2031-03-01T20:01:00,VT2,roll,,\nx,VT2,roll,,\n")
    site.load()
    assert site.withdraw("events/b.csv")
    assert _actions(site) == {"events/b.csv": "withdrawn"}
    assert {**site.dump(), "withdrawn_files": []} == without
    assert not site.load().is_changed
    site.write("events/b.csv", f"{EVENTS}2031-03-01T20:01:00,VT2,roll,,\n")
    assert _actions(site) == {"events/b.csv": "loaded"}
    assert not site.withdraw("events/c.csv")


def test_a_file_put_back_is_loaded_again(site) -> None:
    from pipeline.ingest import put_back
    from pipeline.store import Store

    site.write("events/b.csv", f"{EVENTS}2031-03-01T20:01:00,VT2,roll,,\n")
    site.load()
    whole = site.dump()
    site.withdraw("events/b.csv")
    site.load()
    with Store(site.database) as store:
        assert put_back(store, "events/b.csv")
        assert not put_back(store, "events/b.csv")
    assert _actions(site) == {"events/b.csv": "loaded"}
    assert site.dump() == whole


def test_every_file_of_a_feed_withdrawn_is_refused(site) -> None:
    site.load()
    site.withdraw("tickets.csv")
    with pytest.raises(FeedError, match=r"^Every file of tickets was withdrawn"):
        site.load()


def test_a_mended_table_reads_its_files_again_and_no_others(site) -> None:
    columns = '[feeds.columns]\n"Nr" = "ticket"\n"M" = "machine"\n"Upp" = "opened"\n'
    table = f'[[feeds]]\nkind = "tickets"\npath = "faults.csv"\n{columns}'
    toml = (site.folder / "site.toml").read_text()
    site.write("faults.csv", "Nr;M;Upp\nT1;VT1;01/03/2031 20:00\nT2;VT1;02/03/2031 20:00\n")
    (site.folder / "tickets.csv").unlink()
    site.write("site.toml", toml + table.replace("[feeds.columns]", 'date_order = "mdy"\n[feeds.columns]'))
    site.load()
    # read as month first: 3 January and 3 February
    opened = "select opened_at_utc from raw_tickets order by 1"
    assert [row["opened_at_utc"].month for row in site.rows(opened)] == [1, 2]
    site.write("site.toml", toml + table.replace("[feeds.columns]", 'date_order = "dmy"\n[feeds.columns]'))
    assert _actions(site) == {"faults.csv": "read again"}
    assert [row["opened_at_utc"].month for row in site.rows(opened)] == [3, 3]


def test_files_asked_for_are_read_again(site) -> None:
    from pipeline.ingest import load_site, with_rows_set_aside
    from pipeline.settings import read_settings
    from pipeline.store import Store

    site.write("events/b.csv", f"{EVENTS}x,VT2,roll,,\n")
    site.load()
    with Store(site.database) as store, store.transaction():
        again = with_rows_set_aside(store)
        result = load_site(site.folder, read_settings(site.folder), store, again=again)
    assert again == {"events/b.csv"}
    assert {load.file: load.action for load in result.files if load.action != "unchanged"} == {
        "events/b.csv": "read again"
    }


def test_the_history_says_what_each_load_did(site) -> None:
    site.load()
    site.write("events/a.csv", (site.folder / "events/a.csv").read_text() + "2031-03-01T20:01:00,VT1,stop,,\n")
    site.load()
    site.load()
    rows = site.rows("select load_no, file, action, rows_count from load_history order by load_no, file")
    assert [tuple(row.values()) for row in rows] == [
        (1, "bookings.csv", "loaded", 1),
        (1, "events/a.csv", "loaded", 1),
        (1, "switches.csv", "loaded", 1),
        (1, "tickets.csv", "loaded", 1),
        (2, "events/a.csv", "grown", 1),
    ]


def test_a_database_of_an_earlier_version_is_filled_anew(site) -> None:
    from pipeline.store import Store

    site.load()
    wanted = site.dump()
    with Store(site.database) as store:
        store.run("alter table source_files drop column reading")
    assert set(_actions(site).values()) == {"loaded"}
    assert site.dump() == wanted


def test_order_of_day_and_month_comes_from_the_file_or_is_refused(site) -> None:
    table = '[[feeds]]\nkind = "tickets"\npath = "faults.csv"\n'
    toml = (site.folder / "site.toml").read_text()
    (site.folder / "tickets.csv").unlink()
    site.write("site.toml", toml + table)
    site.write("faults.csv", "ticket,machine,opened\nT1,VT1,01/03/2031 20:00\nT2,VT1,13/03/2031 20:00\n")
    site.load()
    assert [row["d"] for row in site.rows("select day(opened_at_utc) as d from raw_tickets order by 1")] == [1, 13]
    site.write("faults.csv", "ticket,machine,opened\nT1,VT1,01/03/2031 20:00\nT2,VT1,02/03/2031 20:00\n")
    with pytest.raises(FeedError, match=r"^faults.csv.*date_order"):
        site.load()


def test_the_doubled_hour_is_told_by_the_order_of_the_lines(site) -> None:
    """Stockholm, 26 October 2031: 03:00 CEST is 02:00 CET again. 02:50 then 02:10 can only be first and second pass."""
    lines = ("02:50:00,VT1,roll", "02:10:00,VT1,stop", "02:20:00,VT2,roll")
    site.write("events/a.csv", EVENTS + "".join(f"2031-10-26T{line},,\n" for line in lines))
    site.load()
    rows = site.rows("select line, stamped_at_utc, is_ambiguous from raw_events order by line")
    assert [(row["line"], row["stamped_at_utc"].strftime("%H:%M"), row["is_ambiguous"]) for row in rows] == [
        (2, "00:50", False),
        (3, "01:10", False),
        (4, "00:20", True),
    ]


def test_machines_and_reels_have_one_name(site) -> None:
    toml = (site.folder / "site.toml").read_text()
    site.write("site.toml", f'reel_numbers = "normal"\n{toml}\n[[renumbered]]\nwas = "VT1"\nis = "VT7"\n')
    site.write("bookings.csv", (site.folder / "bookings.csv").read_text().replace("R1", "R-0O1"))
    site.load()
    assert site.rows("select machine from raw_events") == [{"machine": "VT7"}]
    assert site.rows("select machine, reel, extra from raw_bookings") == [
        {"machine": "VT7", "reel": "R-1", "extra": '{"reel as written":"R-0O1","machine as written":"VT1"}'}
    ]
