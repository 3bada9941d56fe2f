"""Syslog lines against the examples of RFC 5424 and RFC 3164, and against RFC 5424's grammar written out anew."""

from __future__ import annotations

import io
import re
import time
from collections.abc import Callable
from datetime import datetime
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.errors import FeedError
from pipeline.ingest.syslog import syslog_data, syslog_reader
from pipeline.ingest.syslog.syslog_reader import read_syslog
from pipeline.ingest.times.stamps import read_stamps

Row = dict[str, object]
BOM = "\ufeff"


def _batches(data: bytes, block_bytes: int = 1 << 20, first_line: int = 1):
    return list(read_syslog(io.BytesIO(data), "a.log", first_line=first_line, block_bytes=block_bytes))


def _rows(batches) -> list[Row]:
    """Each row with its line and what is recorded, under the file's headers."""
    rows: list[Row] = []
    for batch in batches:
        names = dict(zip(batch.rows.columns[2:], batch.headers, strict=True))
        found = batch.rows.drop("text").rename(names).to_dicts()
        rows += [{name: cell for name, cell in row.items() if cell is not None} for row in found]
    return rows


def _aside(batches) -> list[tuple[int, str, str]]:
    return [row for batch in batches for row in batch.aside.iter_rows()]


def _findings(batches) -> list[tuple[int, str, str]]:
    return [row for batch in batches for row in batch.findings.iter_rows()]


def _one(line: str) -> Row:
    batches = _batches(line.encode() + b"\n")
    assert _aside(batches) == []
    (row,) = _rows(batches)
    assert row.pop("line") == 1
    assert [text for batch in batches for text in batch.rows["text"]] == [line]
    return row


def _reason(line: str) -> str:
    batches = _batches(line.encode() + b"\n")
    assert _rows(batches) == []
    ((number, text, reason),) = _aside(batches)
    assert (number, text) == (1, line)
    return reason


# RFC 5424 section 6.5, examples 1 to 4. Where the RFC prints BOM it means the octets EF BB BF.
SU = f"{BOM}'su root' failed for lonvick on /dev/pts/8"
EXAMPLE_SDID = '[exampleSDID@32473 iut="3" eventSource="Application" eventID="1011"]'
THIRD = "<165>1 2003-10-11T22:14:15.003Z mymachine.example.com evntslog - ID47 "
THIRD_CELLS = {
    "at": "2003-10-11T22:14:15.003Z",
    "host": "mymachine.example.com",
    "app": "evntslog",
    "msgid": "ID47",
    "facility": "20",
    "severity": "5",
    "exampleSDID@32473.iut": "3",
    "exampleSDID@32473.eventSource": "Application",
    "exampleSDID@32473.eventID": "1011",
}
NEW_EXAMPLES: list[tuple[str, Row]] = [
    (
        f"<34>1 2003-10-11T22:14:15.003Z mymachine.example.com su - ID47 - {SU}",
        {
            "at": "2003-10-11T22:14:15.003Z",
            "host": "mymachine.example.com",
            "app": "su",
            "msgid": "ID47",
            "facility": "4",
            "severity": "2",
            "msg": "'su root' failed for lonvick on /dev/pts/8",
        },
    ),
    (
        "<165>1 2003-08-24T05:14:15.000003-07:00 192.0.2.1 myproc 8710 - - %% It's time to make the do-nuts.",
        {
            "at": "2003-08-24T05:14:15.000003-07:00",
            "host": "192.0.2.1",
            "app": "myproc",
            "procid": "8710",
            "facility": "20",
            "severity": "5",
            "msg": "%% It's time to make the do-nuts.",
        },
    ),
    (
        f"{THIRD}{EXAMPLE_SDID} {BOM}An application event log entry...",
        {**THIRD_CELLS, "msg": "An application event log entry..."},
    ),
    (
        f'{THIRD}{EXAMPLE_SDID}[examplePriority@32473 class="high"]',
        {**THIRD_CELLS, "examplePriority@32473.class": "high"},
    ),
]


@pytest.mark.parametrize(("line", "expected"), NEW_EXAMPLES)
def test_the_examples_of_rfc_5424(line: str, expected: Row) -> None:
    assert _one(line) == expected


# RFC 5424 section 6.2.3.1, examples 1 to 4, from memory; the RFC says that 2 is the same instant as 1. Days since 1970:
# 1: 15 * 365, 4 leap days (1972 to 1984), 31 + 28 + 31 + 11 of 1985: 5580; * 86400 + 23 * 3600 + 20 * 60 + 50.52
#    = 482196050.52 s.
# 3: 33 * 365, 8 leap days (1972 to 2000), 273 + 10 of 2003: 12336; * 86400 + 22 * 3600 + 14 * 60 + 15.003
#    = 1065910455.003 s.
# 4: 12:14:15.000003 in UTC. 33 * 365 + 8, 212 + 23 of 2003: 12288; * 86400 + 12 * 3600 + 14 * 60 + 15.000003
#    = 1061727255.000003 s.
STAMPS = [
    ("1985-04-12T23:20:50.52Z", 482_196_050_520_000),
    ("1985-04-12T19:20:50.52-04:00", 482_196_050_520_000),
    ("2003-10-11T22:14:15.003Z", 1_065_910_455_003_000),
    ("2003-08-24T05:14:15.000003-07:00", 1_061_727_255_000_003),
]


@pytest.mark.parametrize(("stamp", "epoch_us"), STAMPS)
def test_the_valid_stamps_of_rfc_5424(stamp: str, epoch_us: int) -> None:
    row = _one(f"<165>1 {stamp} 192.0.2.1 myproc 8710 - - x")
    assert row["at"] == stamp
    at = read_stamps(pl.Series([row["at"]], dtype=pl.String), ZoneInfo("Europe/Stockholm"))["at_utc"].item()
    assert isinstance(at, datetime)
    assert pl.Series([at]).dt.epoch("us").item() == epoch_us


@pytest.mark.parametrize(
    "stamp",
    [
        "2003-08-24T05:14:15.000000003-07:00",  # example 5 of section 6.2.3.1: nine digits
        "2003-10-11t22:14:15.003Z",  # section 6.2.3: T and Z must be capitals
        "2003-10-11T22:14:15.003z",
        "2003-10-11T22:14:60Z",  # no leap seconds
        "2003-10-11T22:14:15",  # and a zone
        "2003-10-11T22:14:15+0100",
        "2003-10-11T24:00:00Z",
        "2003-02-29T22:14:15Z",  # the last day of February 2003 was the 28th
        "2003-13-01T22:14:15Z",
        "2003-10-11T22:14:15.Z",
        "22:14:15",
    ],
)
def test_a_stamp_that_rfc_5424_forbids_is_set_aside(stamp: str) -> None:
    assert f'"{stamp}" is not a time as RFC 5424 has it' in _reason(f"<165>1 {stamp} 192.0.2.1 myproc 8710 - - x")


# RFC 3164 section 5.4, from memory: examples 1 and 3, and 2 and 4 as a relay sends them on. Its text says of example 2
# that all of "Use the BFG!" is content, and of example 3 that CST would be taken for the host.
FOLKS = "1990 Oct 22 10:52:01 TZ-6 scapegoat.dmz.example.org 10.1.2.3 sched[0]: That's All Folks!"
OLD_EXAMPLES: list[tuple[str, Row]] = [
    (
        "<34>Oct 11 22:14:15 mymachine su: 'su root' failed for lonvick on /dev/pts/8",
        {
            "at": "Oct 11 22:14:15",
            "host": "mymachine",
            "app": "su",
            "facility": "4",
            "severity": "2",
            "msg": "'su root' failed for lonvick on /dev/pts/8",
        },
    ),
    (
        "<13>Feb  5 17:32:18 10.0.0.99 Use the BFG!",
        {"at": "Feb  5 17:32:18", "host": "10.0.0.99", "facility": "1", "severity": "5", "msg": "Use the BFG!"},
    ),
    (
        "<165>Aug 24 05:34:00 CST 1987 mymachine myproc[10]: %% It's time to make the do-nuts.",
        {
            "at": "Aug 24 05:34:00",
            "host": "CST",
            "facility": "20",
            "severity": "5",
            "msg": "1987 mymachine myproc[10]: %% It's time to make the do-nuts.",
        },
    ),
    (
        f"<0>Oct 22 10:52:12 scapegoat {FOLKS}",
        {"at": "Oct 22 10:52:12", "host": "scapegoat", "facility": "0", "severity": "0", "msg": FOLKS},
    ),
    # Example 4 as it was sent: a priority, and no stamp that could be told.
    (f"<0>{FOLKS}", {"facility": "0", "severity": "0", "msg": FOLKS}),
]


@pytest.mark.parametrize(("line", "expected"), OLD_EXAMPLES)
def test_the_examples_of_rfc_3164(line: str, expected: Row) -> None:
    assert _one(line) == expected


@pytest.mark.parametrize("priority", range(192))
def test_facility_and_severity_make_up_the_priority(priority: int) -> None:
    # RFC 5424 section 6.2.1: the priority is eight times the facility, plus the severity, which is 0 to 7.
    for line in (f"<{priority}>1 - - - - - -", f"<{priority}>Mar  9 21:04:11 vt1 a: b"):
        row = _one(line)
        assert int(str(row["facility"])) * 8 + int(str(row["severity"])) == priority
        assert row["severity"] in set("01234567")


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        # What daemons write into files: common practice, no source; two of the forms come from real programs in
        # test_real_syslog.py.
        ("Mar  9 21:04:11 vt1 reader[412]: LOCK", ("Mar  9 21:04:11", "vt1", "reader", "412", "LOCK")),
        ("Mar 09 21:04:11.250 vt1 reader[412]: LOCK", ("Mar 09 21:04:11.250", "vt1", "reader", "412", "LOCK")),
        ("Mar  9 2031 21:04:11: vt1 reader: LOCK", ("Mar  9 2031 21:04:11", "vt1", "reader", None, "LOCK")),
        ("Mar  9 21:04:11 vt1 reader[412] LOCK", ("Mar  9 21:04:11", "vt1", "reader", "412", "LOCK")),
        ("Mar  9 21:04:11 vt1 reader LOCK", ("Mar  9 21:04:11", "vt1", None, None, "reader LOCK")),
        ("Mar  9 21:04:11 vt1 (servo)[1]: a: b", ("Mar  9 21:04:11", "vt1", "(servo)", "1", "a: b")),
        ("Mar  9 21:04:11 vt1 servo::drum: LOCK", ("Mar  9 21:04:11", "vt1", "servo::drum", None, "LOCK")),
        ("Mar  9 21:04:11 vt1 kernel: [1.5] up", ("Mar  9 21:04:11", "vt1", "kernel", None, "[1.5] up")),
        ("Mar  9 21:04:11 reader: LOCK", ("Mar  9 21:04:11", None, "reader", None, "LOCK")),
        ("Mar  9 21:04:11 reader[412]: LOCK", ("Mar  9 21:04:11", None, "reader", "412", "LOCK")),
        ("Mar  9 21:04:11 2001:db8:: reader: LOCK", ("Mar  9 21:04:11", "2001:db8::", "reader", None, "LOCK")),
        ("Mar  9 21:04:11 [2001:db8::1] reader: LOCK", ("Mar  9 21:04:11", "[2001:db8::1]", "reader", None, "LOCK")),
        ("Mar  9 21:04:11 vt1", ("Mar  9 21:04:11", "vt1", None, None, None)),
        ("Mar  9 21:04:11 vt1 -- MARK --", ("Mar  9 21:04:11", "vt1", None, None, "-- MARK --")),
        (
            "Mar  9 21:04:11 vt1 last message repeated 3 times",
            ("Mar  9 21:04:11", "vt1", None, None, "last message repeated 3 times"),
        ),
        ("Mar  9 21:04:11 vt1 reader: two#012lines", ("Mar  9 21:04:11", "vt1", "reader", None, "two#012lines")),
        (
            "2031-03-09T21:04:11.123456+01:00 vt1 reader: LOCK",
            ("2031-03-09T21:04:11.123456+01:00", "vt1", "reader", None, "LOCK"),
        ),
        (
            "2031-03-09T21:04:11+0100 vt1 reader[412]: LOCK",
            ("2031-03-09T21:04:11+0100", "vt1", "reader", "412", "LOCK"),
        ),
        ("2031-03-09T21:04:11Z - reader: LOCK", ("2031-03-09T21:04:11Z", None, "reader", None, "LOCK")),
        ("1 2031-03-09T21:04:11Z vt1 reader 412 - - LOCK", ("2031-03-09T21:04:11Z", "vt1", "reader", "412", "LOCK")),
    ],
)
def test_lines_without_a_priority(line: str, expected: tuple[str | None, ...]) -> None:
    row = _one(line)
    assert tuple(row.get(name) for name in ("at", "host", "app", "procid", "msg")) == expected
    assert "facility" not in row
    with_priority = _one(f"<134>{line}")
    assert with_priority == {**row, "facility": "16", "severity": "6"}  # 134 = 16 * 8 + 6


def test_a_priority_without_a_time_is_a_message_without_a_time() -> None:
    assert _one("<13>reader[412]: LOCK") == {
        "facility": "1",
        "severity": "5",
        "app": "reader",
        "procid": "412",
        "msg": "LOCK",
    }


HEAD = "<134>1 2031-03-09T21:04:11Z vt1 reader 412 -"


@pytest.mark.parametrize(
    ("rest", "expected"),
    [
        ("-", {}),
        ("- -", {"msg": "-"}),
        (f"- {BOM}", {}),
        ('-  [a x="1"]', {"msg": '[a x="1"]'}),
        ("[a]", {}),
        ('[a x=""] m', {"msg": "m"}),
        ('[a x="] m [b y=\\"2\\"]"] m', {"a.x": '] m [b y="2"]', "msg": "m"}),
        # RFC 5424 section 6.3.3: only ", \ and ] lose their backslash, before any other character it stands for itself.
        (r'[a x="\"\\\]\n\\n"] m', {"a.x": '"\\]\\n\\n', "msg": "m"}),
        (r'[a x="c:\\"][b y="\]] "] m', {"a.x": "c:\\", "b.y": "]]", "msg": "m"}),
        # Section 6.3.5, examples 3 and 4 from memory: after a space the rest is text, whatever it looks like.
        ('[e@32473 iut="3"] [p@32473 class="high"]', {"e@32473.iut": "3", "msg": '[p@32473 class="high"]'}),
        # A parameter may come again (section 6.3.3), an element may not (6.3.2): either way no value is lost.
        ('[origin ip="192.0.2.1" ip="" ip="192.0.2.129"]', {"origin.ip": "192.0.2.1, 192.0.2.129"}),
        ('[a x=" " x=" 1"]', {"a.x": "1"}),
        ('[a x="1"][a x="2" y="3"]', {"a.x": "1, 2", "a.y": "3"}),
        ('[a [x="1"][[b y="2"]', {"a.[x": "1", "[b.y": "2"}),
        ('[a  x="1" ]', {"a.x": "1"}),
        ('[a ü="é"]', {"a.ü": "é"}),
        (
            '[timeQuality tzKnown="1" isSynced="1" syncAccuracy="60000000"]',
            {
                "timeQuality.tzKnown": "1",
                "timeQuality.isSynced": "1",
                "timeQuality.syncAccuracy": "60000000",
            },
        ),
    ],
)
@pytest.mark.parametrize("most_shapes", [30, 0])
def test_structured_data(rest: str, expected: Row, most_shapes: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(syslog_data, "MOST_SHAPES", most_shapes)
    row = _one(f"{HEAD} {rest}")
    head = {"at": "2031-03-09T21:04:11Z", "host": "vt1", "app": "reader", "procid": "412"}
    assert row == {**head, "facility": "16", "severity": "6", **expected}


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("    at servo.drum(line 4)", "no syslog message"),
        ("Use the BFG!", "no syslog message"),  # RFC 3164 section 5.4, example 2 as sent
        ("Traceback (most recent call last):", "no syslog message"),
        ("-- Boot 0123456789abcdef --", "no syslog message"),
        ("[12345.678901] BUG: unable to handle page fault", "no syslog message"),
        (" ", "no syslog message"),
        ("Mar  9 21:04:11", "no syslog message"),
        ("Mar 9th 21:04:11 vt1 reader: LOCK", "no syslog message"),
        ("<> x", "no syslog message"),
        ("<1234>Mar  9 21:04:11 vt1 reader: LOCK", "no syslog message"),
        ("<192>Mar  9 21:04:11 vt1 reader: LOCK", '"<192>" is no priority'),
        ("<999>1 - - - - - -", '"<999>" is no priority'),
        ("<34>1 ", "breaks off"),
        ("<34>1 2003-10-11T22:14:15.003Z vt1 reader 412 -", "breaks off"),
        ("<34>1 2003-10-11T22:14:15.003Z vt1  412 - - m", "breaks off"),
        (f"{HEAD} LOCK", "structured data cannot be read"),
        (f"{HEAD} -LOCK", "structured data cannot be read"),
        (f"{HEAD} []", "structured data cannot be read"),
        (f"{HEAD} [ a]", "structured data cannot be read"),
        (f'{HEAD} [a x="1"]LOCK', "structured data cannot be read"),
        (f'{HEAD} [a x="1]', "structured data cannot be read"),
        (f'{HEAD} [a x="1\\"]', "structured data cannot be read"),
        (f"{HEAD} [a x=1]", "structured data cannot be read"),
        (f'{HEAD} [a x="1"y="2"]', "structured data cannot be read"),
        (f'{HEAD} [a ="1"]', "structured data cannot be read"),
        (f"{HEAD} [a" + ' x="1"' * 1001 + "]", "hold 1001 values"),
    ],
)
def test_a_line_that_cannot_be_read_is_set_aside(line: str, words: str) -> None:
    assert words in _reason(line)


def test_a_thousand_values_are_read() -> None:
    assert _one(f"{HEAD} [a" + ' x="1"' * 1000 + "]")["a.x"] == ", ".join("1" * 1000)


@pytest.mark.parametrize("line", [NEW_EXAMPLES[0][0], NEW_EXAMPLES[1][0], OLD_EXAMPLES[0][0]])
def test_a_count_of_octets_is_taken_off_where_it_fits(line: str) -> None:
    # RFC 6587 section 3.4.1: the octets of the message, a space, the message. A sender may count the line end too.
    octets = len(line.encode())
    for count in (octets, octets + 1, octets + 2):
        assert _one(f"{count} {line}") == _one(line)
    for count in (octets - 1, octets + 3, 10**8):
        assert _reason(f"{count} {line}").startswith(f"The line says that {count} octets follow, but {octets} do.")


def test_lines_texts_and_damage() -> None:
    data = b"\xef\xbb\xbfMar  9 21:04:11 vt1 a: 1\r\n\n\xff\xfe\nMar  9 21:04:11 vt1 a:  \xc3\xa9 \n<13>1\x00\n\rx"
    batches = _batches(data)
    assert [(row["line"], row["msg"]) for row in _rows(batches)] == [(1, "1"), (4, "é")]
    assert [text for batch in batches for text in batch.rows["text"]][1] == "Mar  9 21:04:11 vt1 a:  é "
    assert [(line, text, reason[:27]) for line, text, reason in _aside(batches)] == [
        (3, "\\xff\\xfe", "The row holds bytes that ar"),
        (5, "<13>1\\x00", "The row holds a NUL charact"),
        (7, "x", "The line is no syslog messa"),
    ]


def test_a_stream_from_the_middle_of_a_file_goes_on_counting_lines() -> None:
    batches = _batches(b"Mar  9 21:04:11 vt1 a: 1\n\nx\n<13>1\x00\n\xff", first_line=101)
    assert [row["line"] for row in _rows(batches)] == [101]
    assert [line for line, _, _ in _aside(batches)] == [103, 104, 105]


def _numbered(*numbers: tuple[str, str, object]) -> bytes:
    lines = (f'<134>1 - {host} {app} - - [meta sequenceId="{n}"] x' for host, app, n in numbers)
    return "\n".join(lines).encode()


@pytest.mark.parametrize("block_bytes", [1, 100, 1 << 20])
def test_numbers_left_out_and_begun_anew(block_bytes: int) -> None:
    # RFC 5424 section 7.3.1: counted from 1 by the originator, after 2147483647 comes 1.
    data = _numbered(
        ("VT1", "-", 41),
        ("VT2", "-", 7),
        ("VT1", "-", 44),
        ("VT2", "-", 9),
        ("VT1", "-", 44),
        ("VT1", "-", "x"),
        ("VT1", "-", 1),
        ("VT1", "-", 2),
        ("VT2", "-", 2147483647),
        ("VT2", "-", 1),
        ("VT2", "-", 2147483648),
        ("VT2", "-", 2),
    )
    assert _findings(_batches(data, block_bytes)) == [
        (3, "gap", "VT1 numbered 41, then 44: 2 lines of this sender are missing."),
        (4, "gap", "VT2 numbered 7, then 9: 1 line of this sender is missing."),
        (7, "restart", "VT1 numbered 44, then 1: its count restarted."),
        # 2147483647 - 9 - 1 numbers lie between.
        (9, "gap", "VT2 numbered 9, then 2147483647: 2147483637 lines of this sender are missing."),
    ]


@pytest.mark.parametrize("block_bytes", [1, 150, 1 << 20])
def test_a_host_may_count_for_each_app_or_as_a_whole(block_bytes: int) -> None:
    each = [("VT1", app, n) for n in (1, 2, 3, 5) for app in ("servo", "reader")]
    assert _findings(_batches(_numbered(*each), block_bytes)) == [
        (7, "gap", "VT1 servo numbered 3, then 5: 1 line of this sender is missing."),
        (8, "gap", "VT1 reader numbered 3, then 5: 1 line of this sender is missing."),
    ]
    whole = [("VT1", app, n) for n, app in zip((1, 2, 3, 4, 7, 8), ("servo", "reader") * 3, strict=True)]
    assert _findings(_batches(_numbered(*whole), block_bytes)) == [
        (5, "gap", "VT1 numbered 4, then 7: 2 lines of this sender are missing."),
    ]


def test_without_evidence_each_app_counts_for_itself() -> None:
    assert _findings(_batches(_numbered(("VT1", "servo", 41), ("VT1", "reader", 100), ("VT1", "servo", 43)))) == [
        (3, "gap", "VT1 servo numbered 41, then 43: 1 line of this sender is missing."),
    ]


def test_lines_without_a_number_do_not_count() -> None:
    data = (
        _numbered(("VT1", "-", 1))
        + b"\n<134>1 - VT1 - - - - x\n"
        + _numbered(("VT1", "-", 2), ("-", "-", 1), ("-", "-", 3))
    )
    assert _findings(_batches(data)) == [
        (5, "gap", "A sender without a name numbered 1, then 3: 1 line of this sender is missing.")
    ]


@pytest.mark.parametrize("block_bytes", [1, 120, 1 << 20])
def test_a_clock_not_synchronised_is_said_once_a_stretch(block_bytes: int) -> None:
    # RFC 5424 section 7.1: isSynced and tzKnown are 0 or 1.
    said = ['tzKnown="1" isSynced="1"', 'tzKnown="1" isSynced="0"', 'isSynced="0"', "", 'tzKnown="0" isSynced="0"']
    said += ['isSynced="1"', 'isSynced="0"', 'tzKnown="0"']
    data = "\n".join(f"<134>1 - VT1 - - - [timeQuality {each}] x" for each in said).encode()
    clock, zone = "its clock is not synchronised", "it does not know its time zone"
    assert _findings(_batches(data, block_bytes)) == [
        (2, "unsynchronised", f"VT1 says that {clock} from here on."),
        (5, "unsynchronised", f"VT1 says that {clock} and {zone} from here on."),
        (7, "unsynchronised", f"VT1 says that {clock} from here on."),
        (8, "unsynchronised", f"VT1 says that {zone} from here on."),
    ]


def _names(count: int, number: int) -> str:
    return f"{HEAD} [a" + "".join(f' n{number}_{k}="{k}"' for k in range(count)) + "]"


def test_many_columns_come_in_smaller_batches_and_far_too_many_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    data = "\n".join([*(_names(20, k) for k in range(10)), "x"]).encode()
    whole = _batches(data)
    monkeypatch.setattr(syslog_reader, "CELLS_IN_A_BATCH", 700)  # three rows of 8 + 200 columns
    parts = _batches(data)
    assert (len(whole), len(parts)) == (1, 4)
    assert _rows(parts) == _rows(whole)
    assert [line for line, _, _ in _aside(parts)] == [11]
    with pytest.raises(FeedError, match=r"^a\.log has 10008 columns"):  # 8 and ten times 1000
        _batches("\n".join(_names(1000, k) for k in range(10)).encode(), 20_000)


@pytest.mark.parametrize(
    "make",
    [
        lambda n: HEAD + " " + "[" * n,
        lambda n: HEAD + " " + "\\" * n,
        lambda n: HEAD + ' [a x="' + "\\" * n,
        lambda n: HEAD + ' [a x="' + '\\"' * (n // 2),
        lambda n: HEAD + ' [a x="' + "[\\" * (n // 2) + '"] m',
        lambda n: HEAD + " " + "[a]" * (n // 3),
        lambda n: HEAD + " [a " + " " * n,
        lambda n: HEAD + " [a" + ' x="1"' * (n // 6) + "]",
        lambda n: HEAD + " [a" + ' x="1"' * (n // 6) + "x",
        lambda n: "Mar  9 21:04:11 " + ":" * n,
        lambda n: "Mar  9 21:04:11 " + "[" * n,
        lambda n: "Mar  9 21:04:11 vt1 " + "a[" * (n // 2),
        lambda n: "<34>1 " + " " * n,
        lambda n: "1" * n,
        lambda n: "<" * n,
    ],
)
def test_a_line_of_a_megabyte_takes_no_longer_than_its_length(make: Callable[[int], str]) -> None:
    line = make(1_000_000)
    begun = time.process_time()
    batches = _batches(f"{line}\n{HEAD} - next\n".encode())
    # Measured at most 0.2 s; a pattern that goes back and tries again would take hours.
    assert time.process_time() - begun < 20
    assert _rows(batches)[-1]["msg"] == "next"
    assert len(_rows(batches)) + len(_aside(batches)) == 2


# RFC 5424 section 6, its ABNF as one Python pattern. Bounds of length are left out, as the reader leaves them out.
PRINTED = "[!-~]+"
SD_NAME = r"""[!#-<>-\\^-~]+"""
SD_VALUE = r'"(?:[^"\\\]]|\\.)*+"'
SD_ELEMENT = rf"\[{SD_NAME}(?: {SD_NAME}={SD_VALUE})*+\]"
STAMP = r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d{1,6})?(?:Z|[+-]\d\d:\d\d)"
GRAMMAR = re.compile(
    rf"<(\d{{1,3}})>1 (-|{STAMP}) ({PRINTED}) ({PRINTED}) ({PRINTED}) ({PRINTED}) (-|(?:{SD_ELEMENT})+)(?: (.*))?",
    re.ASCII | re.DOTALL,
)
PARAMETER = re.compile(rf" ({SD_NAME})=({SD_VALUE})", re.DOTALL)


def _by_the_grammar(line: str) -> Row | None:
    """The cells of a line of RFC 5424 as Python's re reads them; None if the grammar does not allow it."""
    match = GRAMMAR.fullmatch(line)
    if not match or int(match[1]) > 191 or not _is_instant(match[2]):
        return None
    cells = dict(zip(("at", "host", "app", "procid", "msgid"), match.groups()[1:6], strict=True))
    cells = {name: cell for name, cell in cells.items() if cell != "-"}
    cells |= {"facility": str(int(match[1]) // 8), "severity": str(int(match[1]) % 8)}
    for element in re.findall(SD_ELEMENT, match[7], re.DOTALL):
        name = re.match(rf"\[({SD_NAME})", element)
        assert name
        for key, quoted in PARAMETER.findall(element):
            value = re.sub(r'\\(["\\\]])', r"\1", quoted[1:-1]).strip()
            place = f"{name[1]}.{key}"
            cells[place] = ", ".join(part for part in (cells.get(place, ""), value) if part)
    cells["msg"] = (match[8] or "").removeprefix(BOM)
    return {name: cell.strip() for name, cell in cells.items() if cell.strip()}


def _is_instant(stamp: str) -> bool:
    if stamp == "-":
        return True
    try:
        datetime.fromisoformat(stamp)
    except ValueError:
        return False
    return stamp[11:13] != "24"


# Python's strip takes the separators U+001C to U+001F for white space; Unicode's White_Space property does not.
TEXT = st.text(st.characters(codec="utf-8", exclude_characters="\n\r\x00\x1c\x1d\x1e\x1f"), max_size=12)
VALUE = TEXT | st.text(st.sampled_from("\"\\] [a='n"), max_size=12)
FIELD = st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=1, max_size=8)
NAME = FIELD.filter(lambda text: not set(text) & set('=]"'))
ELEMENT = st.tuples(NAME, st.lists(st.tuples(NAME, VALUE), max_size=3))


@st.composite
def messages(draw: st.DrawFn) -> str:
    """A line written by the rules of RFC 5424 section 6."""
    stamp = draw(st.sampled_from(["-", *(text for text, _ in STAMPS)]))
    fields = " ".join(draw(st.just("-") | FIELD) for _ in range(4))
    elements = [
        f"[{name}" + "".join(f' {key}="{_escaped(value)}"' for key, value in pairs) + "]"
        for name, pairs in draw(st.lists(ELEMENT, max_size=3))
    ]
    text = draw(st.none() | TEXT | TEXT.map(lambda text: BOM + text))
    tail = "" if text is None else f" {text}"
    return f"<{draw(st.integers(0, 191))}>1 {stamp} {fields} {''.join(elements) or '-'}{tail}"


def _escaped(value: str) -> str:
    return re.sub(r'(["\\\]])', r"\\\1", value)


@pytest.mark.lengthy
@given(st.lists(messages(), min_size=1, max_size=5), st.integers(1, 300), st.sampled_from([0, 2, 30]))
def test_what_the_rules_allow_is_read_as_the_grammar_has_it(
    lines: list[str], block_bytes: int, most_shapes: int
) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(syslog_data, "MOST_SHAPES", most_shapes)
        batches = _batches("\n".join(lines).encode(), block_bytes)
    expected = [_by_the_grammar(line) for line in lines]
    assert None not in expected
    assert _rows(batches) == [{"line": number, **(cells or {})} for number, cells in enumerate(expected, start=1)]
    assert [text for batch in batches for text in batch.rows["text"]] == lines
    assert _aside(batches) == []


@st.composite
def mutated(draw: st.DrawFn) -> str:
    """A good line with a piece cut out, doubled or replaced."""
    line = draw(messages() | st.sampled_from([line for line, _ in (*NEW_EXAMPLES, *OLD_EXAMPLES)]))
    start, end = sorted((draw(st.integers(0, len(line))), draw(st.integers(0, len(line)))))
    piece = draw(st.just("") | st.just(line[start:end] * 2) | st.sampled_from(list('"\\][ =-<>:1\t')) | TEXT)
    return (line[:start] + piece + line[end:]).replace(BOM + "<", "<")


@given(mutated())
def test_a_mutated_line_is_read_as_the_grammar_has_it_or_otherwise_lost_nowhere(line: str) -> None:
    batches = _batches(b"\n" + line.encode())
    rows, aside = _rows(batches), _aside(batches)
    assert len(rows) + len(aside) == bool(line)
    expected = _by_the_grammar(line)
    if expected is not None:
        assert rows == [{"line": 2, **expected}]


PIECES = [line.encode() for line, _ in (*NEW_EXAMPLES, *OLD_EXAMPLES)]
PIECES += [b"\n", b"\n\n", b"\r\n", b"\r", b"<34>1 ", b"Mar  9 21:04:11 ", b" \xff", b"\x00", b"[", b'"', b"\\", b"x]"]
PIECES += [_numbered(("VT1", app, n)) + b"\n" for app in ("a", "b") for n in (1, 2, 4)]
PIECES += [b'<13>1 - h - - - [timeQuality isSynced="%d"] x\n' % k for k in (0, 1)]


@given(st.lists(st.sampled_from(PIECES) | st.binary(max_size=6), max_size=12).map(b"".join), st.integers(1, 200))
def test_any_block_size_gives_the_same_and_no_line_is_lost(data: bytes, block_bytes: int) -> None:
    whole, parts = _batches(data), _batches(data, block_bytes)
    assert (_rows(parts), _aside(parts), _findings(parts)) == (_rows(whole), _aside(whole), _findings(whole))
    # Reference: universal newlines of the standard library.
    lines = io.TextIOWrapper(io.BytesIO(data.removeprefix(b"\xef\xbb\xbf")), "latin-1").read().split("\n")
    filled = [number for number, line in enumerate(lines, start=1) if line]
    numbers = sorted([*(row["line"] for row in _rows(whole)), *(line for line, _, _ in _aside(whole))])
    assert numbers == filled
