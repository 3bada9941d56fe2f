"""Writes the second invented room, sample_logs/second_room, in its own spellings, and on demand its canonical twin.

    python sample_logs/write_second_room.py                 write the folder
    python sample_logs/write_second_room.py --check         compare with what is there; exit status 1 where it differs
    python sample_logs/write_second_room.py --twin FOLDER   write the same content in the program's own columns

The same seed gives the same bytes, of the workbook and the packed log too.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # so that it also runs as a plain script

from sample_logs.foreign import booking_calendar, fault_workbook, registers, selector_log
from sample_logs.foreign.acting import Acted, act_all
from sample_logs.foreign.booked import entries
from sample_logs.foreign.machine_syslog import write_machine_logs
from sample_logs.foreign.page import write_page
from sample_logs.foreign.site_file import write_site
from sample_logs.foreign.strays import Strays
from sample_logs.foreign.twin import write_twin

HERE = Path(__file__).resolve().parent / "second_room"
SEED = 2031
MADE = ("reports/", "airhours.duckdb")  # by running it


def build(seed: int = SEED) -> dict[str, bytes]:
    """Every file of the room by its path."""
    return write_foreign(act_all(seed), Strays())


def write_foreign(acted: Acted, strays: Strays) -> dict[str, bytes]:
    """Every file of the room in its own spellings, by its path; what is to be set aside is noted among the strays."""
    book = acted.book
    files = {
        selector_log.FILE: selector_log.write_selector_log(book.orders, strays),
        fault_workbook.FILE: fault_workbook.write_fault_workbook(book.tickets, strays),
        booking_calendar.SERIES_FILE: booking_calendar.write_series(strays),
        booking_calendar.SINGLE_FILE: booking_calendar.write_single(entries(acted), strays),
        registers.REGISTER_FILE: registers.write_register(strays),
        registers.LABELS_FILE: registers.write_labels(acted.labels, strays),
        **write_machine_logs(book.events, strays),
    }
    return {**files, "site.toml": write_site(), "README.md": write_page(acted, strays, list(files))}


def differences(files: dict[str, bytes], folder: Path) -> list[str]:
    """What in a folder is not as built, byte for byte; what running it leaves there is passed over."""
    there = {path.relative_to(folder).as_posix(): path for path in folder.rglob("*") if path.is_file()}
    there = {name: path for name, path in there.items() if not name.startswith(MADE)}
    found = [f"{name} is missing" for name in files if name not in there]
    found += [f"{name} differs" for name, path in there.items() if name in files and path.read_bytes() != files[name]]
    found += [f"{name} does not belong" for name in there if name not in files]
    return sorted(found)


def write_files(files: dict[str, bytes], folder: Path) -> None:
    """Write every file below a folder."""
    for name, content in files.items():
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    print(f"{len(files)} files, {sum(map(len, files.values())):,} bytes in {folder}")


def main() -> int:
    """Write the room or its twin, or check it; the exit status."""
    parser = argparse.ArgumentParser(description="Write the second invented room of sample_logs.")
    parser.add_argument("--check", action="store_true", help="compare with the files that are there, write nothing")
    parser.add_argument("--twin", type=Path, metavar="FOLDER", help="write the canonical twin to this folder instead")
    options = parser.parse_args()
    if options.twin:
        write_files(write_twin(act_all(SEED)), options.twin)
        return 0
    files = build()
    if options.check:
        found = differences(files, HERE)
        print("\n".join(found) or f"{len(files)} files are as built.")
        return 1 if found else 0
    write_files(files, HERE)
    return 0


if __name__ == "__main__":
    sys.exit(main())
