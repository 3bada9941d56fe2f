"""Hostile input through the command: bounded time and memory, one plain line or rows set aside, no harm in pages.

Every command here may use 3 GiB of data and no more, and is killed after a while; what it took is held against a bound.
Bounds are common practice, no source: what a laptop beside the machines has to spare.
"""

from __future__ import annotations

import csv
import gzip
import io
import json
import os
import random
import re
import shutil
import stat
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator
from html.parser import HTMLParser
from pathlib import Path

import polars as pl
import polars.selectors as cs
import pytest
import zstandard

from tests.safety.room import BOOKINGS, EVENTS, TICKETS, TOML, write_room
from tests.safety.servers import Ran, Server
from tests.safety.state import read_files
from tests.safety.wicked import CHANNELS, EXTREME_TIMES, FORMULAS, INJECTIONS, MARKUP, write_wicked

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="forks, and sets limits of the system")

GOOD = "2031-03-03T10:00:00,VT1,clean,,\n"
MOST_MIB = 3 * 1024
MIB = 1 << 20
DATABASE = "airhours.duckdb"
Write = Callable[[Path], object]


def found(reason: str) -> pytest.MarkDecorator:
    """A finding: the test says what should be, does not hold for this reason, and loses the mark once it is mended.

    Not run meanwhile: each takes minutes and gigabytes to fail, and when it fails hangs on the machine's memory.
    """
    return pytest.mark.xfail(run=False, reason=reason)


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    opened = Server(tmp_path_factory.mktemp("server") / "temporary")
    yield opened
    opened.close()


@pytest.fixture
def site(tmp_path: Path) -> Path:
    return write_room(tmp_path / "site")


def bounded(server: Server, site: Path, *more: str | Path, most_s: float = 20, most_mib: float = 700) -> Ran:
    """Run the site with limits; time is that of the cores, so that what else the machine does is not in it."""
    limits = {"RLIMIT_DATA": MOST_MIB * MIB, "RLIMIT_CPU": int(2 * most_s)}
    ran = server.run(site, *more, limits=limits, is_counted=False)
    assert ran.status in {0, 1, 2}, (ran.status, ran.stderr[-1000:])
    assert ran.cpu_s < most_s, ran.cpu_s
    assert ran.peak_mib < most_mib, ran.peak_mib
    assert list(server.temporary.iterdir()) == []
    return ran


def account(site: Path, file: str) -> tuple[int, int, int, int]:
    """Rows read, kept, repeats and set aside of a file, as the figures have them."""
    figures = json.loads((site / "reports" / "data" / "figures.json").read_text(encoding="utf-8"))
    (entry,) = (entry for entry in figures["files"] if entry["path"] == file)
    return entry["read"], entry["kept"], entry["repeats"], entry["set_aside"]


# --- files that are refused: one plain line, and nothing is left behind


def packed(data: bytes, times: int, name: str) -> bytes:
    """`data` over and over, packed."""
    if name == "zst":
        packer, into = zstandard.ZstdCompressor(level=3), io.BytesIO()
        with packer.stream_writer(into, closefd=False) as stream:
            for _ in range(times):
                stream.write(data)
        return into.getvalue()
    if name == "zip":
        into = io.BytesIO()
        with (
            zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED) as archive,
            archive.open("a.csv", "w", force_zip64=True) as f,
        ):
            for _ in range(times):
                f.write(data)
        return into.getvalue()
    return gzip.compress(data, mtime=0) * times  # RFC 1952, section 2.2: members follow each other


def zipped(*members: tuple[str, str]) -> bytes:
    into = io.BytesIO()
    with zipfile.ZipFile(into, "w") as archive:
        for name, text in members:
            archive.writestr(name, text)
    return into.getvalue()


def wide(columns: int, rows: int = 1) -> str:
    """A header with `columns` columns and rows under it."""
    extra = range(columns - 5)
    names, cells = ",".join(f"c{k}" for k in extra), ",".join("v" for _ in extra)
    return f"at,machine,event,value,detail,{names}\n" + f"{GOOD.strip()},{cells}\n" * rows


def link_out(site: Path) -> None:
    outside = site.parent / "outside"
    outside.mkdir()
    (outside / "secret.csv").write_text(EVENTS + GOOD, encoding="utf-8")
    (site / "events" / "link.csv").symlink_to(outside / "secret.csv")


def folder_link_out(site: Path) -> None:
    (site / "events").rename(site.parent / "outside")
    (site / "events").symlink_to(site.parent / "outside")


def event_file(name: str, content: str | bytes | Callable[[], str | bytes]) -> Write:
    def write(site: Path) -> None:
        made = content() if callable(content) else content
        (site / "events" / name).write_bytes(made.encode() if isinstance(made, str) else made)

    return write


def settings(text: str) -> Write:
    return lambda site: (site / "site.toml").write_text(text, encoding="utf-8")


def settings_pipe(site: Path) -> None:
    (site / "site.toml").unlink()
    os.mkfifo(site / "site.toml")


def not_utf8_name(site: Path) -> None:
    try:
        Path(os.fsdecode(os.fsencode(site / "events") + b"/\xff.csv")).write_text(EVENTS, encoding="utf-8")
    except OSError:
        pytest.skip("the file system takes UTF-8 names only")


NOISE = bytes(range(256)) * 9
CLIMBS = zipped(("../../../evil.csv", EVENTS + GOOD))
ROOTED = zipped(("/evil.csv", EVENTS + GOOD))
CUT = zipped(("a.csv", EVENTS + GOOD * 1_000))[:-30]
REFUSED: dict[str, tuple[Write, tuple[str, ...]]] = {
    "10,001 columns": (event_file("wide.csv", lambda: wide(10_001)), ("wide.csv", "10001 columns", "10000")),
    "a million columns": (event_file("wide.csv", lambda: wide(1_000_000)), ("wide.csv", "columns")),
    "a header of quotes": (event_file("q.csv", '"' * 2_001), ("q.csv", "quotes")),
    "random bytes": (event_file("x.csv", NOISE), ("x.csv", "header")),
    "a link that leads out": (link_out, ("events/link.csv", "leads out")),
    "a folder that leads out": (folder_link_out, ("events/", "leads out")),
    "a name with a line end": (event_file("a\nb.csv", EVENTS), ("a\\nb.csv", "Rename")),
    "a name with an escape sign": (event_file("a\x1b[31mb.csv", EVENTS), ("a\\x1b[31mb.csv", "Rename")),
    "a name that is not UTF-8": (not_utf8_name, ("csv", "UTF-8", "Rename")),
    "a zip that climbs out": (event_file("s.zip", CLIMBS), ("s.zip", "evil.csv", "leads out")),
    "a zip with a root": (event_file("s.zip", ROOTED), ("s.zip", "leads out")),
    "a zip cut short": (event_file("s.zip", CUT), ("s.zip", "damaged")),
    "a zip of 20,000 files": (
        event_file("s.zip", lambda: zipped(*((f"{k}.csv", "") for k in range(20_000)))),
        ("s.zip", "20,000"),
    ),
    "a zip that is none": (event_file("s.zip", b"\x00" * 1_000), ("s.zip", "zip")),
    "a gzip that is none": (event_file("s.csv.gz", b"\x00" * 1_000), ("s.csv.gz", "gzip")),
    "a Parquet file of noise": (event_file("p.parquet", b"PAR1" + NOISE + b"PAR1"), ("p.parquet", "Parquet")),
    "a Parquet file that lies": (event_file("p.parquet", b"PAR1\xff\xff\xff\x7fPAR1"), ("p.parquet", "Parquet")),
    "settings that are no text": (lambda site: (site / "site.toml").write_bytes(b"\xff\x00" * 500), ("site.toml",)),
    "a line end in a setting": (settings(TOML.replace("Invented", "Inv\nented")), ("site.toml", "TOML")),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_file_that_is_refused_leaves_nothing(server: Server, site: Path, case: str) -> None:
    write, words = REFUSED[case]
    write(site)
    before = read_files(site.parent)
    ran = bounded(server, site, most_s=10, most_mib=1_000)
    for word in words:
        assert word in ran.refusal
    assert read_files(site.parent) == before
    assert not (site / "reports").exists()


def test_a_header_of_a_million_quotes_is_refused_in_a_line(server: Server, site: Path) -> None:
    event_file("q.csv", '"' * 1_000_000)(site)
    assert "q.csv" in bounded(server, site, most_s=10).refusal


def test_settings_that_are_a_pipe_do_not_hold_a_run_up(server: Server, site: Path) -> None:
    settings_pipe(site)
    assert "site.toml" in bounded(server, site, most_s=3).refusal


def test_settings_with_100_000_brackets_are_refused_in_a_line(server: Server, site: Path) -> None:
    settings(TOML + "x = " + "[" * 100_000)(site)
    assert "site.toml" in bounded(server, site, most_s=10).refusal


def test_settings_of_50_mb_are_refused_in_a_line(server: Server, site: Path) -> None:
    settings(TOML + f"lead_s = 1{'0' * 50_000_000}\n")(site)
    assert "site.toml" in bounded(server, site, most_s=10).refusal


# --- files that are read, or passed over: each costs itself at most


@pytest.mark.slow
def test_what_is_odd_in_a_folder_costs_no_other_file(server: Server, site: Path) -> None:
    """Worked by hand from the texts; quotes as RFC 4180, section 2, has them: two lines of a quote are one cell."""
    events = site / "events"
    texts = {
        "a'b\"c.csv": EVENTS + "2031-03-03T10:00:00,Q1,clean,,\n",
        "<img src=x onerror=alert(1)>.csv": EVENTS + "2031-03-03T10:00:00,Q2,clean,,\nnone\n",
        f"{'n' * 246}.csv": EVENTS + "2031-03-03T10:00:00,Q3,clean,,\n",
        "[a]*?{b}.csv": EVENTS + "2031-03-03T10:00:00,Q4,clean,,\n",
        "UPPER.CSV": EVENTS + "2031-03-03T10:00:00,Q5,clean,,\n",
        "' or 1=1; drop table raw_events; --.csv": EVENTS + "2031-03-03T10:00:00,Q6,clean,,\n",
        "nul.csv": EVENTS + "2031-03-03T10:00:00,Q\x007,clean,,\n2031-03-03T10:00:00,Q7,clean,,\n\x00\x00\x00\n",
        "old.csv": (EVENTS + "2031-03-03T10:00:00,Q8,clean,,\n").replace("\n", "\r"),
        "deep.jsonl": "\n".join(
            (
                "[" * 100_000,
                '{"at":' + "[" * 100_000 + "]" * 100_000 + "}",
                '{"a":' * 100_000 + "1" + "}" * 100_000,
                '{"at":"2031-03-03T10:00:00","machine":"Q9","event":"hours","value":' + "9" * 5_000 + "}",
                '{"at":"2031-03-03T10:00:00","machine":"Q9","event":"clean"}',
            )
        ),
        "quotes.csv": EVENTS + '"' * 100_000 + "\n" + '"\n' * 10 + "2031-03-03T10:00:00,Q10,clean,,\n",
        "empty.csv": "",
    }
    for name, text in texts.items():
        (events / name).write_bytes(text.encode())
    pass_over(site)
    shutil.copy(events / "VT1.csv", events / "vt1.csv")  # the same file twice, but for letter case
    (events / "again.csv").symlink_to("VT1.csv")
    assert bounded(server, site).status in {0, 1}
    wanted = {
        "a'b\"c.csv": (1, 1, 0, 0),
        "<img src=x onerror=alert(1)>.csv": (2, 1, 0, 1),
        f"{'n' * 246}.csv": (1, 1, 0, 0),
        "[a]*?{b}.csv": (1, 1, 0, 0),
        "UPPER.CSV": (1, 1, 0, 0),
        "' or 1=1; drop table raw_events; --.csv": (1, 1, 0, 0),
        "nul.csv": (3, 1, 0, 2),
        "old.csv": (1, 1, 0, 0),
        "deep.jsonl": (5, 1, 0, 4),  # 5,000 nines are no number that a cell can hold
        "quotes.csv": (7, 1, 0, 6),
        "empty.csv": (0, 0, 0, 0),
        "VT1.csv": (29, 29, 0, 0),  # in order of names the first of the three
        "again.csv": (29, 0, 29, 0),
        "vt1.csv": (29, 0, 29, 0),
    }
    assert {name: account(site, f"events/{name}") for name in wanted} == wanted


def pass_over(site: Path) -> None:
    """Things with the names of files that are none: a pipe and a device would never end."""
    events = site / "events"
    os.mkfifo(events / "pipe.csv")
    os.mkfifo(site / "tickets-pipe.csv")
    if os.geteuid() == 0:
        os.mknod(events / "zeros.csv", 0o666 | stat.S_IFCHR, os.makedev(1, 5))
    (events / "folder.csv").mkdir()
    (events / "gone.csv").symlink_to("nowhere.csv")
    (events / "loop.csv").symlink_to("loop.csv")
    (events / "one.csv").symlink_to("two.csv")
    (events / "two.csv").symlink_to("one.csv")
    (events / ".hidden.csv").write_text("no events at all", encoding="utf-8")
    (events / "nested.zip").write_bytes(zipped(("inner.zip", "PK")))


@pytest.mark.slow
def test_10_000_columns_are_read(server: Server, site: Path) -> None:
    event_file("wide.csv", wide(10_000))(site)
    assert bounded(server, site, most_s=60, most_mib=1_500).is_done
    assert account(site, "events/wide.csv") == (1, 1, 0, 0)


@pytest.mark.slow
def test_times_at_the_ends_of_the_calendar(server: Server, site: Path) -> None:
    """The years 1 and 9999, and where a count of nanoseconds in 64 bits ends: set aside or kept, and nothing breaks."""
    for time in EXTREME_TIMES:
        name = time[:4]
        event_file(f"{name}.csv", f"{EVENTS}{time},VT1,clean,,\n2031-03-03T10:00:0{name[0]},VT1,clean,,\n")(site)
        (site / f"tickets-{name}.csv").write_text(f"{TICKETS}{name},VT1,{time},{time},,,,,,,,,\n", encoding="utf-8")
        (site / f"bookings-{name}.csv").write_text(
            f"{BOOKINGS}{name},X{name},One,,,,VT1,maintenance,{time},2031-03-03T11:00:00\n", encoding="utf-8"
        )
    ran = bounded(server, site, most_s=60, most_mib=1_000)
    assert ran.status in {0, 1}
    for time in EXTREME_TIMES:
        read_count, kept_count, _, aside_count = account(site, f"events/{time[:4]}.csv")
        assert (read_count, kept_count + aside_count) == (2, 2)
        assert kept_count >= 1
    assert len(list((site / "reports").glob("month-*.html"))) < 12_000


# --- large ones


@pytest.mark.slow
def test_a_cell_of_50_mb_costs_its_row(server: Server, site: Path) -> None:
    event_file("huge.csv", f"{EVENTS}2031-03-03T10:00:00,VT1,clean,,{'x' * 50_000_000}\n{GOOD}")(site)
    (site / "tickets-huge.csv").write_text(
        f"{TICKETS}H1,VT1,2031-03-03T21:00:00,,,{'y' * 50_000_000},,,,,,,ab\nH2,VT1,2031-03-03T21:00:00,,,,,,,,,,ab\n",
        encoding="utf-8",
    )
    assert bounded(server, site, most_s=60, most_mib=1_000).is_done
    assert account(site, "events/huge.csv") == (2, 1, 0, 1)
    assert account(site, "tickets-huge.csv") == (2, 1, 0, 1)
    assert sum(path.stat().st_size for path in (site / "reports").rglob("*.html")) < 10 * MIB


@pytest.mark.slow
def test_a_million_lines_of_one_letter(server: Server, site: Path) -> None:
    """All of them are set aside, so that a check of the kind stop fails; the row after them is kept."""
    event_file("short.csv", EVENTS + "x\n" * 1_000_000 + GOOD)(site)
    assert bounded(server, site, most_s=60, most_mib=1_500).status == 1
    assert account(site, "events/short.csv") == (1_000_001, 1, 0, 1_000_000)


HEAVY: dict[str, Callable[[], bytes]] = {
    "16 million lines of one letter": lambda: f"{EVENTS}{GOOD}".encode() + b"x\n" * (16 * MIB),
    "25 million lines after a quote": lambda: f'{EVENTS}{GOOD}"'.encode() + b"x\n" * 25_000_000,
    "10,000 columns in 2,000 rows": lambda: wide(10_000, rows=2_000).encode(),
    "200 MB of NULs in 400 KB": lambda: packed(EVENTS.encode() + GOOD.encode() + nuls(), 14, "gz"),
}


def nuls() -> bytes:
    """15 MB with a line end about every megabyte."""
    dice = random.Random(1)
    return b"".join(dice.randbytes(1) + b"\0" * 3_000 for _ in range(5_000))


TOO_HEAVY = found("the process with its libraries and such a file together need more than 3 GiB")


@pytest.mark.slow
@pytest.mark.parametrize("case", [pytest.param(case, marks=() if "NUL" in case else TOO_HEAVY) for case in HEAVY])
def test_a_file_that_is_heavy_to_hold(server: Server, site: Path, case: str) -> None:
    (site / "events" / "heavy.csv.gz").write_bytes(HEAVY[case]() if "NUL" in case else gzip.compress(HEAVY[case](), 1))
    assert bounded(server, site, most_s=240, most_mib=2_500).status in {0, 1}
    assert account(site, "events/heavy.csv.gz")[1] >= 1


@pytest.mark.slow
@pytest.mark.parametrize(("name", "gib"), [("gz", 4), ("zst", 4), ("zip", 2)])
def test_gigabytes_of_zeros(server: Server, site: Path, name: str, gib: int) -> None:
    """Zeros pack 1,032 to 1 with deflate (RFC 1951, section 3.2.5): a bomb is known for one near its end."""
    event_file("zeros.zip" if name == "zip" else f"zeros.csv.{name}", packed(b"\0" * (16 * MIB), 64 * gib, name))(site)
    ran = bounded(server, site, most_s=120, most_mib=600)
    assert "zeros." in ran.refusal
    assert "times its size" in ran.refusal


@pytest.mark.slow
def test_a_channel_with_a_long_name_has_its_page(server: Server, site: Path) -> None:
    for feed in ("bookings.csv", "switches.csv"):
        (site / feed).write_text((site / feed).read_text(encoding="utf-8").replace(",One,", f",{'x' * 300},"), "utf-8")
    assert bounded(server, site).is_done
    assert_names_are_plain(site)


@pytest.mark.slow
def test_1_500_machines_on_air(server: Server, site: Path) -> None:
    rows = [
        f"M{k},XM{k},Three,,,,M{k},air,2031-03-{3 + k // 1000:02}T{8 + k % 1000 // 100:02}:{k % 100 // 2:02}:00,"
        f"2031-03-{3 + k // 1000:02}T{8 + k % 1000 // 100:02}:{k % 100 // 2:02}:30\n"
        for k in range(1_500)
    ]
    (site / "bookings-many.csv").write_text(BOOKINGS + "".join(rows), encoding="utf-8")
    assert bounded(server, site, most_s=120, most_mib=1_500).status in {0, 1}


@pytest.mark.slow
@found("10,000 channels at once take longer to tell and to draw than is allowed")
def test_10_000_channels_at_once(server: Server, site: Path) -> None:
    times = "2031-03-03T08:00:00,2031-03-03T08:00:30"
    rows = [f"C{k},XC{k},C{k},,,,VT9,air,{times}\n" for k in range(10_000)]
    (site / "bookings-many.csv").write_text(BOOKINGS + "".join(rows), encoding="utf-8")
    assert bounded(server, site, most_s=240, most_mib=2_000).status in {0, 1}


@pytest.mark.slow
def test_10_000_machines(server: Server, site: Path) -> None:
    event_file("many.csv", EVENTS + "".join(f"2031-03-03T10:00:00,M/{k}..,clean,,\n" for k in range(10_000)))(site)
    assert bounded(server, site, most_s=120, most_mib=1_000).is_done
    assert account(site, "events/many.csv") == (10_000, 10_000, 0, 0)
    assert_names_are_plain(site)


# --- what is written for people: pages and tables of wicked words


@pytest.fixture(scope="module")
def wicked(server: Server, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wicked")
    site = write_wicked(folder / "site")
    assert bounded(server, site, most_s=40).status in {0, 1}
    return site


class Seen(HTMLParser):
    """What a browser would find in a page: elements, attributes, and the text a reader sees."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self.text += " "

    def handle_data(self, data: str) -> None:
        self.text += data


def pages_of(site: Path) -> dict[str, Seen]:
    paths = sorted((site / "reports").glob("*.html"))
    assert len(paths) > 5
    return {path.name: Seen(path.read_text(encoding="utf-8")) for path in paths}


@pytest.mark.slow
def test_no_element_of_a_page_comes_from_what_was_logged(wicked: Path) -> None:
    for name, page in pages_of(wicked).items():
        for tag, attributes in page.elements:
            assert tag not in {"img", "iframe", "object", "embed", "form", "base"}, name
            if tag == "script":
                assert attributes.get("src") in {"assets/airhours.js", "assets/find.js"}, (name, attributes)
            assert not any(attribute.startswith("on") for attribute in attributes), (name, tag, attributes)
            for attribute in ("href", "src", "xlink:href"):
                where = attributes.get(attribute) or ""
                assert re.fullmatch(r"(#[\w-]*|[\w./-]+(#[\w.-]*)?|data:image/svg[\w+;,=%.-]*)?", where), (name, where)


def test_wicked_words_are_shown_as_they_were_written(wicked: Path) -> None:
    shown = " ".join(page.text for page in pages_of(wicked).values())
    assert MARKUP[0] in shown
    assert MARKUP[6] in shown, "a code of HTML that was written into a log is no sign of the page's"
    assert "1337" not in shown, "7 × 191: a template in a log is no template of ours"
    for text in MARKUP[:2]:
        assert text in " ".join(shown.split())


def assert_names_are_plain(site: Path) -> None:
    """Every page lies in the folder itself, and its name is plain on every system."""
    reports = site / "reports"
    for path in reports.rglob("*"):
        name = path.relative_to(reports).as_posix()
        assert re.fullmatch(
            r"((data|assets)(/[a-z_]+\.(csv|json|parquet|css|js)|/airhours\.css)?|[a-z0-9._-]+\.html)", name
        )
        assert len(path.name) <= 255


def test_names_of_pages_are_plain_and_nothing_lies_elsewhere(wicked: Path) -> None:
    assert_names_are_plain(wicked)
    assert {path.name for path in wicked.parent.iterdir()} == {"site"}
    feeds = {"site.toml", "switches.csv", "tickets.csv", "bookings.csv", "machines.csv", "reels.csv", "events"}
    feeds |= {"rulings.csv", *(f"{feed}-wicked.csv" for feed in ("switches", "tickets", "bookings"))}
    assert {path.name for path in wicked.iterdir()} == feeds | {DATABASE, "reports"}


def test_channels_whose_names_read_alike_have_a_page_each(wicked: Path) -> None:
    """Each of the channels has one incident in the same second, at 19:10:00 UTC on 10 March."""
    pages = [page for name, page in pages_of(wicked).items() if name.startswith("incident-20310310-191000")]
    for channel in CHANNELS:
        told = " ".join(f"Channel {channel} ".split()).lower()
        assert sum(told in " ".join(page.text.split()).lower() + " " for page in pages) >= 1, channel
    assert len(pages) == len(CHANNELS)


def test_machines_come_back_by_the_names_they_were_logged_with(wicked: Path) -> None:
    figures = json.loads((wicked / "reports" / "data" / "figures.json").read_text(encoding="utf-8"))
    assert {entry["channel"] for entry in figures["channels"]} >= set(CHANNELS)
    rows = pl.read_parquet(wicked / "reports" / "data" / "air_spans.parquet")
    assert set(rows["channel"]) >= set(CHANNELS)
    assert account(wicked, "events/wicked.csv")[:2] == (
        (len(FORMULAS) + len(MARKUP)) * 3 + len(INJECTIONS) + 1 + 4 * len(CHANNELS),
        len(FORMULAS) + len(MARKUP) + len(INJECTIONS) + 4 * len(CHANNELS),
    )


def tables_of(site: Path) -> Iterator[tuple[str, list[dict[str, str]], pl.DataFrame]]:
    """Each exported table: its name, its cells in the CSV, and the same table in Parquet."""
    for path in sorted((site / "reports" / "data").glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            yield path.stem, list(csv.DictReader(file)), pl.read_parquet(path.with_suffix(".parquet"))


def test_no_text_in_an_exported_csv_is_a_formula(wicked: Path) -> None:
    """OWASP ASVS 5.0, requirement 1.2.10: a quote before a field that begins with =, +, -, @, tab or NUL."""
    guarded: set[str] = set()
    for name, rows, frame in tables_of(wicked):
        for column in frame.select(cs.string()).columns:
            for row, exact in zip(rows, frame[column].to_list(), strict=True):
                told = row[column]
                if (exact or "").startswith(("=", "+", "-", "@", "\t", "\r", "\0")):
                    assert told == f"'{exact}", (name, column)
                    guarded.add(exact)
                else:
                    assert told == (exact or ""), (name, column)
    assert {FORMULAS[0], "-"} <= guarded, "a channel and a line of the log begin so"
    assert any(text.startswith("\t=1+1") for text in guarded)


@pytest.mark.slow
def test_a_spreadsheet_finds_no_formula_in_an_exported_csv(wicked: Path, tmp_path: Path) -> None:
    """What another program makes of them: no cell of the opened table has a formula."""
    office = shutil.which("soffice")
    if office is None:
        pytest.skip("there is no spreadsheet program here")
    tables = [wicked / "reports" / "data" / f"{name}.csv" for name in ("set_aside", "air_spans", "figures")]
    (tmp_path / "control.csv").write_text("a\n=1+1\n", encoding="utf-8")
    home = f"-env:UserInstallation={(tmp_path / 'home').as_uri()}"
    command = [office, home, "--headless", "--convert-to", "fods", "--outdir", str(tmp_path)]
    subprocess.run(
        [*command, *map(str, tables), str(tmp_path / "control.csv")], check=True, capture_output=True, timeout=180
    )
    opened = {path.stem: path.read_text(encoding="utf-8") for path in tmp_path.glob("*.fods")}
    assert set(opened) == {"set_aside", "air_spans", "figures", "control"}
    assert "table:formula" in opened.pop("control"), "the program shows a formula where there is one"
    for name, text in opened.items():
        assert "table:formula" not in text, name
