"""Writes sample_logs/README.md and site.toml, so that what they say of dates and numbers is always what was written."""

from __future__ import annotations

from collections import defaultdict

from sample_logs.room.instants import as_local
from sample_logs.room.mess import BLANK, BY_HAND, TWICE, UNREADABLE
from sample_logs.room.parts import write_parts
from sample_logs.room.plant import NAME
from sample_logs.room.play import Played
from sample_logs.room.sheets import Counted
from sample_logs.room.truth import Oddity

SITE = f"""# An invented room in an invented town. Its machines, programmes, people and faults are made up.
name = "{NAME}"
timezone = "Europe/Stockholm"   # its clocks go forward on 30 March 2031
day_starts = "06:00"
frame_rate = 25

# Every price below is invented, like the room: no station, maker or workshop stands behind it. What a new machine costs
# stands in machines.csv.
[costs]
currency = "crowns"
discount_rate = 0.05
labour_per_h = 650
lost_per_s = 25
make_good = 4000
response = 300
exposed_per_h = 20
replacement_life_years = 12
overhaul = 120000
overhaul_life_years = 4
overhaul_rate_ratio = 0.8
lighter_air_ratio = 0.5
lighter_per_air_h = 260

[costs.parts."head"]
planned = 5200
failure = 9800
"""

OPENING = f"""# Sample logs

Three months, February to April 2031, of the {NAME}. The town, the room, its machines, programmes and people are
invented, and so is everything that goes wrong here. `write_room.py` wrote every file of this folder, this page too:

    python sample_logs/write_room.py            write the folder again
    python sample_logs/write_room.py --check    compare the folder with what would be written

The same seed gives the same files. `truth.json` is the true answer: what the scenes played in the room say
happened, added up in whole milliseconds. It is not worked out from the logs. It has the shape of `figures.json`, with
the times to recover as plain lists of `[seconds, end seen]`, and beside them every transmission, interruption, switch,
recovery, clock and scene.

`second_room/` is another invented room, none of whose files is in the program's own columns; it has a page of its own.

## The room

Eight machines, VT1 to VT8, in four pairs; VT1 to VT4 play channel One, VT5 to VT8 channel Two, any pair channel Night.
The broadcast day starts at 06:00 local time. `machines.csv` has an extra column `bay`, `switches.csv` an extra column
`panel`. The costs in `site.toml` are invented too; they are no one's prices.

- VT5 never logs `lock`: its log card has no such line.
- VT6 has a clock that is 42.000 s ahead of the house; all other clocks are right. VT6 and VT1 log `clock` now and then.
- VT7 and VT8 log `alive` every minute around their transmissions.
- The log of VT4 from 10 March 06:00 to 14 March 06:00 was never saved.
- Two machines started by one command come up as much as a quarter of a second apart (common practice, no source); the
  first `offset` shows it, and the second that they were brought into step by hand.

Common practice, no source: clean and line up before each use, prove protect in step before air, read the offset again
about every twenty minutes, change over to the other pair when the reel ends.
"""


def write_readme(played: Played, files: list[Counted]) -> str:
    """The page: the room, its files, the rows that do not belong, and what happens when."""
    return "\n".join([OPENING, _files(files), _mess(), _happenings(played.truth.oddities), _faults(played)])


def _files(files: list[Counted]) -> str:
    odd = {
        "events/VT2_2031-03b.csv": "two extra columns, `tension_mv` and `reader`",
        "events/VT3_2031-03.jsonl": "JSON lines, with an extra key `unit`",
        "events/VT3_2031-04.csv": "lines end in CR LF, stamps have six decimals",
        "events/VT4_2031-04.csv": "columns in another order",
        "events/VT5_2031-02.csv.gz": "packed",
        "events/VT5_2031-03.csv": "begins with a byte order mark",
        "events/VT8_2031-04.parquet": "Parquet, stamps as text, value as a number",
        "tickets.csv": "three tickets come again with other content",
        "bookings.csv": "two bookings come again with other times; stamps to the minute, local",
        "switches.csv": "stamps in UTC with Z",
    }
    stamps = {"utc": "UTC with Z", "naive": "local, no offset", "offset": "local with offset", "micros": "UTC with Z"}
    parts = {part.path: part for part in write_parts()}
    lines = [
        "## The files",
        "",
        "| file | read | kept | repeats | set aside | stamps | odd |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for file in files:
        row = file.row()
        part = parts.get(file.path)
        notes = [odd[file.path]] if file.path in odd else []
        if part and file.repeats > len(TWICE.get(file.path, ())):
            notes.append("its first day is in the file before it too")
        counts = " | ".join(str(row[name]) for name in ("read", "kept", "repeats", "set_aside"))
        lines.append(f"| `{file.path}` | {counts} | {stamps[part.stamp] if part else ''} | {'; '.join(notes)} |")
    return "\n".join(lines) + "\n"


def _mess() -> str:
    lines = ["## Rows that do not belong", "", "| file | row | what about it |", "| --- | --- | --- |"]
    for table, fate in ((UNREADABLE, "set aside"), (BY_HAND, "kept")):
        for path, rows in table.items():
            lines += [f"| `{path}` | `{_show(row)}` | {why}: {fate} |" for _, row, why in rows]
    lines += [f"| `{path}` | | {len(shares)} row(s) come twice: repeats |" for path, shares in TWICE.items()]
    lines += [f"| `{path}` | | an empty line: no row |" for path in BLANK]
    return "\n".join(lines) + "\n"


def _show(row: bytes) -> str:
    return row.decode("utf-8", errors="backslashreplace").replace("\n", "\\n").replace("|", "\\|")


def _happenings(oddities: list[Oddity]) -> str:
    """What happens out of the ordinary, by kind and then by date."""
    kinds: dict[str, list[Oddity]] = defaultdict(list)
    for oddity in oddities:
        kinds[oddity.scene].append(oddity)
    lines = [
        "## What happens, and when",
        "",
        "Times are local.",
        "",
        "| what | when | where | |",
        "| --- | --- | --- | --- |",
    ]
    for kind in sorted(kinds):
        for oddity in sorted(kinds[kind], key=lambda row: row.at):
            when = as_local(oddity.at).strftime("%Y-%m-%d %H:%M:%S")
            lines.append(f"| {kind.replace('_', ' ')} | {when} | {oddity.where} | {oddity.what} |")
    return "\n".join(lines) + "\n"


def _faults(played: Played) -> str:
    """The everyday faults, which differ only in their times: the transmissions that have them."""
    named = {oddity.scene for oddity in played.truth.oddities} | {"plain"}
    kinds: dict[str, list[str]] = defaultdict(list)
    for scene in played.scenes:
        if scene["scene"] not in named:
            kinds[scene["scene"]].append(scene["transmission"])
    lines = ["## Everyday faults", "", "| what | transmissions |", "| --- | --- |"]
    lines += [f"| {kind.replace('_', ' ')} | {', '.join(names)} |" for kind, names in sorted(kinds.items())]
    return "\n".join(lines) + "\n"
