"""One file, whatever its format: the same rows, the same counts, and plain words where it cannot be used."""

from __future__ import annotations

import csv
import gzip
import io
import json

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.errors import FeedError

HEADER = ["at", "machine", "event", "value", "detail", "desk"]
ROWS = [
    ["2031-03-01T20:00:00.250", "VT1", "roll", "", "", "1"],
    ["2031-03-01T20:00:01.000001", "VT2", "offset", "-0.013", 'VT1, "left"', ""],
    ["2031-10-26T02:30:00", "VT1", "alarm", "", "line one\nline two", "é"],
]
SAME = (
    "select at_text, stamped_at_utc, is_ambiguous, machine, event, value, detail, extra "
    "from raw_events order by stamped_at_utc"
)


def _csv(rows, **how) -> bytes:
    out = io.StringIO()
    csv.writer(out, **how).writerows(rows)
    return out.getvalue().encode()


def _objects() -> list[dict[str, str]]:
    return [dict(zip(HEADER, row, strict=True)) for row in ROWS]


def _jsonl() -> bytes:
    typed = [{**row, "value": float(row["value"]) if row["value"] else None} for row in _objects()]
    return "".join(json.dumps(row) + "\n" for row in typed).encode()


def _parquet(*, typed: bool) -> bytes:
    out = io.BytesIO()
    frame = pl.DataFrame(_objects())
    if typed:
        number = pl.col("value").cast(pl.Float64, strict=False)
        frame = frame.with_columns(pl.col("at").str.to_datetime("%Y-%m-%dT%H:%M:%S%.f", time_unit="us"), number)
    frame.write_parquet(out)
    return out.getvalue()


def _load_as(site, name: str, content: bytes) -> list[dict[str, object]]:
    for path in (site.folder / "events").iterdir():
        path.unlink()
    site.write(f"events/{name}", content)
    site.load()
    assert site.rows("select read_count from source_files where feed = 'events'") == [{"read_count": 3}]
    return site.rows(SAME)


def test_every_format_gives_the_same_rows(site, zstd_frame) -> None:
    plain = _csv([HEADER, *ROWS], lineterminator="\n")
    wanted = _load_as(site, "a.csv", plain)
    assert [row["detail"] for row in wanted] == [None, 'VT1, "left"', "line one\nline two"]
    assert [row["extra"] for row in wanted] == ['{"desk":"1"}', None, '{"desk":"é"}']
    others = {
        "b.csv": _csv([HEADER, *ROWS], lineterminator="\r\n", quoting=csv.QUOTE_ALL),
        "c.csv": b"\xef\xbb\xbf" + plain.replace(b"\n", b"\r"),
        "d.csv.gz": gzip.compress(plain),
        "e.csv.zst": zstd_frame(plain),
        "f.jsonl": _jsonl(),
        "g.jsonl.gz": gzip.compress(_jsonl()),
        "h.jsonl.zst": zstd_frame(_jsonl()),
        "i.parquet": _parquet(typed=True),
        "j.parquet": _parquet(typed=False),
        "k.csv": _csv([[*row[::-1]] for row in [HEADER, *ROWS]]),
    }
    assert {name: _load_as(site, name, content) for name, content in others.items()} == dict.fromkeys(others, wanted)


@pytest.mark.parametrize(
    ("file", "content", "words"),
    [
        (
            "events/a.csv",
            "at,machin,event\n",
            r'^events/a.csv has no column "machine"\. It has: at, event, machin\. Did you mean',
        ),
        ("events/a.csv", "at,Machine,event\n", r'^events/a.csv has a column "Machine"\. Did you mean "machine"\?'),
        ("events/a.csv", "at,machine,event,Detail\n", r'has a column "Detail"\. Did you mean "detail"\?'),
        ("events/a.jsonl", '{"at":"2031-03-01","event":"roll"}\n', 'has no column "machine"'),
        ("events/a.jsonl", "[]\n", 'has no column "at"'),
        ("switches.csv", "at,action,channel,to_machine\n", 'has no column "from_machine"'),
        ("tickets.csv", "ticket,machine\n", 'has no column "opened"'),
        ("bookings.csv", "booking,transmission,channel,machine,role,starts\n", 'has no column "ends"'),
        ("machines.csv", "kind\n", 'has no column "machine"'),
        ("reels.csv", "show\n", 'has no column "reel"'),
        ("events/a.csv", "at;machine;event\n", 'has no column "at"'),
    ],
)
def test_a_file_that_lacks_a_column_is_refused_in_one_line(site, file: str, content: str, words: str) -> None:
    site.write(file, content)
    with pytest.raises(FeedError, match=words) as caught:
        site.load()
    assert "\n" not in str(caught.value)


def test_missing_optional_columns_are_named(site) -> None:
    site.write("events/a.csv", "at,machine,event\n2031-03-01T20:00:00,VT1,roll\n")
    site.write("events/b.csv", "")
    site.load()
    assert site.rows(
        "select file, missing_columns from source_files where feed in ('events', 'switches') order by 1"
    ) == [
        {"file": "events/a.csv", "missing_columns": "value,detail"},
        {"file": "events/b.csv", "missing_columns": None},
        {"file": "switches.csv", "missing_columns": ""},
    ]


LINE = st.text(alphabet=st.characters(codec="utf-8"), max_size=12) | st.sampled_from(
    [
        *(
            '"',
            '""',
            '"a',
            'b"',
            ",",
            ",,,,",
            " ",
            "2031-03-01T20:00:00,VT1,roll,,",
            '"2031-03-30T02:30","VT1","lock",,',
        ),
        *(
            "2031-10-26T02:30,VT2,stop,inf,x",
            "9999-12-31T23:59:59.9999999-14:00,VT1,roll,,",
            "\ud7ff,\uffff,\U0010ffff,,",
        ),
    ]
)


@pytest.mark.lengthy
@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(LINE, max_size=12), st.sampled_from(["\n", "\r\n", "\r"]), st.binary(max_size=4))
def test_any_lines_are_kept_or_set_aside_and_none_is_lost(site, lines: list[str], line_end: str, tail: bytes) -> None:
    data = line_end.join(["at,machine,event,value,detail", *lines, ""]).encode() + tail
    site.write("events/a.csv", data)
    site.load()
    (counts,) = site.rows(
        "select read_count, (select count(*) from raw_events) + (select count(*) from raw_set_aside) as stored, "
        "(select count(*) from (select line from raw_events union select line from raw_set_aside)) as lines "
        "from source_files where file = 'events/a.csv'"
    )
    assert counts["read_count"] == counts["stored"] == counts["lines"]
    if b'"' not in data:
        # Without quotes a row is a physical line that is not empty; bytes.splitlines knows LF, CRLF and CR.
        assert counts["read_count"] == sum(1 for line in data.splitlines()[1:] if line)
