"""Writes the invented room of sample_logs: its site.toml, its feeds with their mess, and the true answer, truth.json.

    python sample_logs/write_room.py            write everything
    python sample_logs/write_room.py --check    compare with what is there; exit status 1 where it differs

The same seed gives the same files. The truth is what the scenes say happened; no log is read to find it.
"""

from __future__ import annotations

import argparse
import gzip
import io
import json
import sys
from pathlib import Path
from typing import Any

import polars as pl

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # so that it also runs as a plain script

from sample_logs.room.figures import add_up
from sample_logs.room.plant import FAST_BY_MS, FAST_CLOCK, MACHINES
from sample_logs.room.play import Played, play_all
from sample_logs.room.readme import SITE, write_readme
from sample_logs.room.sheets import Counted, write_sheets

HERE = Path(__file__).resolve().parent
SEED = 2031


def build(seed: int = SEED) -> dict[str, bytes]:
    """Every file of the room by its path inside sample_logs."""
    played = play_all(seed)
    files = write_sheets(played)
    truth = write_truth(played, files)
    return {
        **{file.path: file.content for file in files},
        "site.toml": SITE.encode(),
        "truth.json": _json_by_line(truth).encode(),
        "README.md": write_readme(played, files).encode(),
    }


def write_truth(played: Played, files: list[Counted]) -> dict[str, Any]:
    """The true answer in the shape of figures.json."""
    rows = [file.row() for file in files]
    counts = {name: sum(int(row[name]) for row in rows) for name in ("read", "kept", "repeats", "set_aside")}
    clocks = [{"machine": name, "offset_s": FAST_BY_MS / 1000 * (name == FAST_CLOCK)} for name in MACHINES]
    return {"rows": counts, "files": rows, **add_up(played.truth), "clocks": clocks, "scenes": played.scenes}


def differences(files: dict[str, bytes], folder: Path) -> list[str]:
    """What in a folder is not as built. Packed files are compared unpacked: packers differ from version to version."""
    found = []
    for path, content in sorted(files.items()):
        there = folder / path
        if not there.exists():
            found.append(f"{path} is missing")
        elif _plain(path, there.read_bytes()) != _plain(path, content):
            found.append(f"{path} differs")
    written = {file.relative_to(folder).as_posix() for file in (folder / "events").glob("*")}
    found += [f"{path} does not belong" for path in sorted(written - set(files))]
    return found


def _plain(path: str, content: bytes) -> bytes:
    if path.endswith(".gz"):
        return gzip.decompress(content)
    if path.endswith(".parquet"):
        return pl.read_parquet(io.BytesIO(content)).write_csv().encode()
    if path == "truth.json":
        truth = json.loads(content)
        for row in truth["files"]:
            row.pop("sha256")
        return json.dumps(truth).encode()
    return content


def _json_by_line(truth: dict[str, Any]) -> str:
    """JSON with one list item a line, so that a difference shows where it is."""
    parts = []
    for key, value in truth.items():
        if isinstance(value, list):
            items = ",\n".join("  " + json.dumps(item, ensure_ascii=False) for item in value)
            parts.append(f"{json.dumps(key)}: [\n{items}\n]")
        else:
            parts.append(f"{json.dumps(key)}: {json.dumps(value, ensure_ascii=False)}")
    return "{\n" + ",\n".join(parts) + "\n}\n"


def main() -> int:
    """Write the room or check it; the exit status."""
    parser = argparse.ArgumentParser(description="Write the invented room of sample_logs.")
    parser.add_argument("--check", action="store_true", help="compare with the files that are there, write nothing")
    parser.add_argument("--out", type=Path, default=HERE, help="folder to write to, by default sample_logs")
    options = parser.parse_args()
    files = build()
    if options.check:
        found = differences(files, options.out)
        print("\n".join(found) or f"{len(files)} files are as built.")
        return 1 if found else 0
    for path, content in files.items():
        target = options.out / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    print(f"{len(files)} files, {sum(map(len, files.values())):,} bytes in {options.out}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
