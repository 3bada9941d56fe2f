"""Writes the second room's README.md, so that what it says of files, rows and dates is always what was written."""

from __future__ import annotations

from collections import defaultdict

from sample_logs.foreign.acting import Acted
from sample_logs.foreign.house import FIRST_DAY, LAST_DAY, NAME
from sample_logs.foreign.strays import Strays
from sample_logs.room.instants import as_local

OPENING = f"""# A second room, in its own spellings

Four weeks, {FIRST_DAY} to {LAST_DAY}, of the {NAME}. The town, the room, its machines,
programmes and people are invented, and so is everything that goes wrong here. None of its files is in the program's
own columns: `site.toml` says what their columns and words mean. `write_second_room.py` wrote every file of this folder,
this page too:

    python sample_logs/write_second_room.py                 write the folder again
    python sample_logs/write_second_room.py --check         compare the folder with what would be written
    python sample_logs/write_second_room.py --twin FOLDER   write the same content in the program's own columns

    airhours run sample_logs/second_room

The same seed gives the same files. Run on the folder and on its twin, the program gives the same figures, and both are
those that the scenes played in the room state.

## The room

Four machines, VT5 to VT8, in two pairs; people call them Bandmaskin 5 to 8, their log cards bm5 to bm8. VT8 was given
the number 9 on 20 October: logs and tickets call it so from then on, bookings do not. VT5 never logs `lock`, VT6 has a
clock that is 42.000 s ahead of the house, VT7 and VT8 log `alive` every minute around their transmissions.

The clocks go back on 26 October 2031. The wall clock shows the hour from two to three twice in that night, and a
transmission runs over it: the old card of VT5 and the selector log write wall times without an offset there, so that
only the order of their lines tells one pass from the other. The old card writes whole seconds.

## The files

| file | what it is | rows set aside |
| --- | --- | --- |
"""
WHAT = {
    "felanmalningar.xlsx": "fault tickets: a workbook with a title, the header in row 3, real dates, a sheet of notes",
    "vaxelpult_2031.csv": "selector log: Windows-1252, semicolons, broadcast days day first, decimal commas",
    "kalender/serier.ics": "bookings: two series with one day left out, one moved and one called off",
    "kalender/enstaka.ics": "bookings made singly, at zoned, floating and UTC times",
    "register/maskiner.txt": "machine register: tabs, UTF-16 with a byte order mark, spaces between thousands",
    "register/band.csv": "reel labels: numbers with O for 0, with and without zeros in front",
}
ABOVE = "The titles above the headers of the selector log and of the workbook are no rows."
CARDS = "machine logs: RFC 5424 with fields of their own"
OLD_CARD = "log of VT5: RFC 3164, wall time without year or offset"


def write_page(acted: Acted, strays: Strays, paths: list[str]) -> bytes:
    """The page: the room, its files, the rows that do not belong, and what happens when."""
    return (OPENING + _files(strays, paths) + _strays(strays) + _happenings(acted) + _everyday(acted)).encode()


def _files(strays: Strays, paths: list[str]) -> str:
    return "".join(f"| `{path}` | {_what(path)} | {strays.of(path)} |\n" for path in sorted(paths))


def _what(path: str) -> str:
    if not path.startswith("maskinlogg/"):
        return WHAT[path]
    return OLD_CARD if "/bm5_" in path else CARDS + (", packed" if path.endswith(".gz") else "")


def _strays(strays: Strays) -> str:
    lines = [
        "",
        "## Rows that are set aside",
        "",
        ABOVE,
        "",
        "| file | row | why | rows |",
        "| --- | --- | --- | --- |",
    ]
    for (path, what, why), count in sorted(strays.counted.items()):
        lines.append(f"| `{path}` | {what} | {why} | {count} |")
    return "\n".join(lines) + "\n"


def _happenings(acted: Acted) -> str:
    """What happens out of the ordinary, in order of time."""
    lines = ["", "## What happens, and when", "", "Times are local.", ""]
    lines += ["| when | where | | |", "| --- | --- | --- | --- |"]
    for row in sorted(acted.truth.oddities, key=lambda row: row.at):
        when = as_local(row.at).strftime("%Y-%m-%d %H:%M:%S")
        lines.append(f"| {when} | {row.where} | {row.scene.replace('_', ' ')} | {row.what} |")
    return "\n".join(lines) + "\n"


def _everyday(acted: Acted) -> str:
    """The everyday faults: the transmissions that have them."""
    named = {row.scene for row in acted.truth.oddities} | {"plain"}
    kinds: dict[str, list[str]] = defaultdict(list)
    for slot in acted.slots:
        if slot.scene not in named:
            kinds[slot.scene].append(slot.transmission)
    lines = ["", "## Everyday faults", "", "| what | transmissions |", "| --- | --- |"]
    lines += [f"| {kind.replace('_', ' ')} | {', '.join(names)} |" for kind, names in sorted(kinds.items())]
    return "\n".join(lines) + "\n"
