"""What a run leaves beside its pages: figures.json, the same as CSV and Parquet, and the list of files it wrote.

The list (``data/manifest.json``) holds a sha256 of every file, so that a later run can tell that nothing is missing or
altered, and need not write again.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import polars as pl

from pipeline import __version__
from pipeline.errors import OutputError
from pipeline.sql_files import sql_folder
from pipeline.store import Store

DATA = "data"
FIGURES = "figures.json"
MANIFEST = "manifest.json"
GROUPS = ("total", "months", "channels", "machines", "month_channels")
TABLES = {
    "air_spans": ("core_air_spans", "channel, started_at_utc"),
    "interruptions": ("core_interruptions", "interruption_no"),
    "switches": ("core_switches", "switch_no"),
    "recoveries": ("core_recoveries", "recovery_no"),
    "transmissions": ("metric_transmissions", "channel, transmission"),
    "set_aside": ("core_set_aside", "feed, file, line, reason"),
}


def require_writable(target: Path) -> None:
    """Make the out folder and try a file in it.

    Raises:
        OutputError: it is no folder or cannot be written.
    """
    try:
        target.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=target):
            pass
    except OSError as error:
        raise not_writable(target, error) from None


@contextmanager
def out_folder(target: Path) -> Iterator[None]:
    """Make the out folder for a run; one that was not there before and is still empty when the run fails goes again.

    Raises:
        OutputError: it is no folder or cannot be written.
    """
    is_new = not target.exists()
    require_writable(target)
    try:
        yield
    except BaseException:
        if is_new and not any(target.iterdir()):
            target.rmdir()
        raise


def not_writable(target: Path, error: OSError) -> OutputError:
    """The error for an out folder that cannot be written."""
    reason = (error.strerror or str(error)).lower()
    return OutputError(
        f"The out folder {target} cannot be written: {reason}. Name another with --out, or mend its rights."
    )


def write_data(store: Store, figures: dict[str, Any], target: Path) -> None:
    """Write ``data/``: figures.json, figures.csv and .parquet (a row a figure), and the tables behind them."""
    folder = target / DATA
    folder.mkdir(parents=True, exist_ok=True)
    write_text(folder / FIGURES, json.dumps(figures, indent=1, ensure_ascii=False, allow_nan=False) + "\n")
    rows = figure_rows(figures)
    write_text(folder / "figures.csv", rows.write_csv())
    _replace(folder / "figures.parquet", lambda path: rows.write_parquet(path, compression="zstd"))
    for name, (table, order) in TABLES.items():
        frame = store.read(f"select * from {table} order by {order}")
        write_text(folder / f"{name}.csv", frame.write_csv(datetime_format="%Y-%m-%dT%H:%M:%S%.6fZ"))
        _replace(folder / f"{name}.parquet", lambda path, frame=frame: frame.write_parquet(path, compression="zstd"))


def figure_rows(figures: dict[str, Any]) -> pl.DataFrame:
    """figures.json as a long table: group, month, channel, machine, figure, value; nested names joined by a dot."""
    rows: list[tuple[Any, ...]] = []
    for group in GROUPS:
        entries = [figures[group]] if group == "total" else figures[group]
        for entry in entries:
            key = (group, entry.get("month"), entry.get("channel"), entry.get("machine"))
            rows.extend((*key, name, value) for name, value in _flat(entry))
    schema = dict.fromkeys(("group", "month", "channel", "machine", "figure"), pl.String) | {"value": pl.Float64}
    return pl.DataFrame(rows, schema=schema, orient="row")


def _flat(entry: dict[str, Any], before: str = "") -> Iterator[tuple[str, float | None]]:
    for name, value in entry.items():
        if isinstance(value, dict):
            yield from _flat(value, f"{before}{name}.")
        elif value is None or (isinstance(value, int | float) and not isinstance(value, bool)):
            yield before + name, value


def write_text(path: Path, text: str) -> None:
    """Write ``path`` whole or not at all."""
    _replace(path, lambda fresh: fresh.write_text(text, encoding="utf-8", newline="\n"))


def _replace(path: Path, write: Any) -> None:
    fresh = path.with_name(path.name + ".part")
    write(fresh)
    os.replace(fresh, path)  # noqa: PTH105 - atomic, and Path.replace is the same call


def write_manifest(target: Path, seal: str) -> None:
    """List every file of the out folder that a run wrote, with its sha256, under the word for what made them."""
    files = {name: digest_file(target / name) for name in sorted(_written(target))}
    write_text(target / DATA / MANIFEST, json.dumps({"seal": seal, "files": files}, indent=1) + "\n")


def is_intact(target: Path, seal: str) -> bool:
    """Whether the out folder holds, byte for byte, what a run with the same word left there."""
    try:
        manifest = json.loads((target / DATA / MANIFEST).read_text(encoding="utf-8"))
        return bool(manifest["seal"] == seal) and all(
            digest_file(target / name) == sha256 for name, sha256 in manifest["files"].items()
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return False


def _written(target: Path) -> list[str]:
    paths = (path for path in target.rglob("*") if path.is_file() and not path.name.startswith("."))
    return [path.relative_to(target).as_posix() for path in paths if path.name != MANIFEST]


@cache
def program_seal() -> str:
    """One word for the program that makes the figures: its version, its models and its modules."""
    package = Path(__file__).resolve().parent
    files = [*sorted(sql_folder().rglob("*.sql")), *sorted(path for path in package.rglob("*") if _is_source(path))]
    return digest(repr((__version__, [(path.name, digest_file(path)) for path in files])))


def _is_source(path: Path) -> bool:
    return path.is_file() and path.suffix in {".py", ".toml", ".j2", ".css"}


def digest_file(path: Path) -> str:
    """The sha256 of a file's bytes."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def digest(text: str) -> str:
    """The sha256 of a text."""
    return hashlib.sha256(text.encode()).hexdigest()
