"""What a run leaves beside its pages: figures.json, the same as CSV and Parquet, and the list of files it wrote.

The list (``data/manifest.json``) holds a sha256 of every file, so that a later run can tell that nothing is missing or
altered, and need not write again. Only one run at a time writes into an out folder, for the list would call a mixture
of two whole.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from fnmatch import fnmatch
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import polars as pl
import polars.selectors as cs
from polars.exceptions import PolarsError

from pipeline import __version__
from pipeline.digests import digest, digest_file
from pipeline.errors import OutputError
from pipeline.long_tables import PART_ROWS, read_set_aside
from pipeline.out_lock import held_alone
from pipeline.page_times import NONE, Notes, sum_file, sum_files
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
    "patterns": ("measure_patterns", "kind, name"),
    "coincidences": ("measure_coincidences", "cluster_no, at_utc, machine"),
    "case": ("measure_case", "machine, option, line"),
    "set_aside": ("core_set_aside", "feed, file, line, reason"),
}
OF_ANY_TIME = "window-*.html"  # asked for by hand: no run makes them, so none misses them or finds them altered
WRITTEN = ("*.html", "assets/*", "data/*.json", "data/*.csv", "data/*.parquet")
DRAFTS = (".airhours-*", "data/*.part")  # what a killed run may leave
NO_ROOM = ("no space left", "quota exceeded", "file too large", "not enough space")
FORMULA = r"^[=+\-@\t\r\x00]"


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
    """Make the out folder for a run and keep other runs out of it until the run ends, however it ends.

    One that was not there before and is still empty when the run fails goes again. What a killed run left half written
    is taken away.

    Raises:
        OutputError: it is no folder, cannot be written, or another run is writing there.
    """
    is_new = not target.exists()
    require_writable(target)
    try:
        with held_alone(target):
            for left in (path for pattern in DRAFTS for path in target.glob(pattern)):
                shutil.rmtree(left, ignore_errors=True) if left.is_dir() else left.unlink(missing_ok=True)
            yield
    except BaseException:
        if is_new:
            with suppress(OSError):  # it is not empty
                target.rmdir()
        raise


def not_writable(target: Path, error: OSError) -> OutputError:
    """The error for an out folder that cannot be written."""
    reason = (error.strerror or str(error)).lower()
    if any(words in reason for words in NO_ROOM):
        return OutputError(
            f"The disk is full: the out folder {target} cannot be written. Free some space and run again: what is"
            " loaded stays loaded, and the pages are then written whole."
        )
    return OutputError(
        f"The out folder {target} cannot be written: {reason}. Name another with --out, or mend its rights."
    )


def write_data(store: Store, figures: dict[str, Any], target: Path) -> None:
    """Write ``data/``: figures.json, figures.csv and .parquet (a row a figure), and the tables behind them.

    A text in a CSV that a spreadsheet would take for a formula is written behind an apostrophe (see `as_sheet`); JSON
    and Parquet hold every text as it is.

    Raises:
        OutputError: the out folder cannot be written.
    """
    folder = target / DATA
    folder.mkdir(parents=True, exist_ok=True)
    write_text(folder / FIGURES, json.dumps(figures, indent=1, ensure_ascii=False, allow_nan=False) + "\n")
    rows = figure_rows(figures)
    write_text(folder / "figures.csv", as_sheet(rows).write_csv())
    _replace(folder / "figures.parquet", _as_parquet(rows))
    for name, (table, order) in TABLES.items():
        whole = f"select * from {table} order by {order}"
        _write_table(folder / name, read_set_aside(store) if name == "set_aside" else [store.read(whole)])


def as_sheet(frame: pl.DataFrame) -> pl.DataFrame:
    """``frame`` with an apostrophe before each text that begins with = + - @ or a tab, carriage return or NUL.

    What people wrote in a log or a ticket must not run when somebody opens the CSV in a spreadsheet. Reference: OWASP
    Application Security Verification Standard 5.0, requirement 1.2.10; the carriage return is common practice.
    """
    text = cs.string()
    return frame.with_columns(pl.when(text.str.contains(FORMULA)).then(pl.lit("'") + text).otherwise(text).name.keep())


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


def _write_table(path: Path, frames: Iterable[pl.DataFrame]) -> None:
    """Write ``frames``, one after the other, as a CSV and a Parquet file at ``path`` and these endings."""
    sheet, parts = path.with_name(f"{path.name}.csv.part"), list[Path]()
    try:
        with sheet.open("wb") as file:
            for number, frame in enumerate(frames):
                text = as_sheet(frame).write_csv(include_header=not number, datetime_format="%Y-%m-%dT%H:%M:%S%.6fZ")
                file.write(text.encode())
                parts.append(path.with_name(f"{path.name}-{number}.parquet.part"))
                parts[-1].write_bytes(_as_parquet(frame))
        if len(parts) > 1:
            parts.append(path.with_name(f"{path.name}.parquet.part"))
            pl.scan_parquet(parts[:-1]).sink_parquet(parts[-1], compression="zstd", row_group_size=PART_ROWS)
        os.replace(sheet, path.with_name(f"{path.name}.csv"))  # noqa: PTH105 - see _replace
        os.replace(parts[-1], path.with_name(f"{path.name}.parquet"))  # noqa: PTH105
    except (OSError, PolarsError) as error:
        raise not_writable(path.parent, error if isinstance(error, OSError) else OSError(str(error))) from None
    finally:
        for left in (sheet, *parts):
            with suppress(OSError):
                left.unlink(missing_ok=True)


def write_text(path: Path, text: str) -> None:
    """Write ``path`` whole or not at all.

    Raises:
        OutputError: the out folder cannot be written.
    """
    _replace(path, text.encode())


def _as_parquet(frame: pl.DataFrame) -> bytes:
    stream = BytesIO()  # the library does not say what is wrong with a disk
    frame.write_parquet(stream, compression="zstd")
    return stream.getvalue()


def _replace(path: Path, content: bytes) -> None:
    fresh = path.with_name(path.name + ".part")
    try:
        fresh.write_bytes(content)
        os.replace(fresh, path)  # noqa: PTH105 - atomic, and Path.replace is the same call
    except OSError as error:
        with suppress(OSError):
            fresh.unlink(missing_ok=True)
        raise not_writable(path.parent, error) from None


def write_manifest(target: Path, seal: str, pieces: Mapping[str, Any] | None = None) -> Notes:
    """List every file of the out folder that a run wrote, with its sha256, under the word for what made them.

    ``pieces``: where in the pages stand the parts that the next run may take over. Returns how the files look,
    for the next run to believe them.

    Raises:
        OutputError: the out folder cannot be written, or a file that was just written cannot be read.
    """
    try:
        files, fresh = sum_files(target, sorted(_written(target)))
    except OSError as error:
        raise not_writable(target, error) from None
    listed = {"seal": seal, "files": files} | ({} if pieces is None else {"pieces": dict(pieces)})
    write_text(target / DATA / MANIFEST, json.dumps(listed, indent=1) + "\n")
    return fresh


def read_manifest(target: Path) -> dict[str, Any]:
    """What a run listed in the out folder; empty where there is no such list, or a strange one."""
    try:
        manifest = json.loads((target / DATA / MANIFEST).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    is_whole = isinstance(manifest, dict) and all(
        isinstance(manifest.get(name, {}), dict) for name in ("files", "pieces")
    )
    return manifest if is_whole else {}


def is_intact(target: Path, seal: str, notes: Notes = NONE) -> bool:
    """Whether the out folder holds, byte for byte, what a run with the same word left there.

    A file that looks as ``notes`` have it is believed to hold the bytes that it held then.
    """
    manifest = read_manifest(target)
    if manifest.get("seal") != seal or "files" not in manifest:
        return False
    try:
        return all(sum_file(target / name, notes.get(name)) == sha256 for name, sha256 in manifest["files"].items())
    except (OSError, ValueError):
        return False


def _written(target: Path) -> list[str]:
    """Names of the files that may be a run's own; a database or a note that lies in the out folder too is none."""
    paths = (path for pattern in WRITTEN for path in target.glob(pattern) if path.is_file())
    names = [path.relative_to(target).as_posix() for path in paths if path.name != MANIFEST]
    return [name for name in names if not fnmatch(name, OF_ANY_TIME)]


@cache
def program_seal() -> str:
    """One word for the program that makes the figures: its version, its models and its modules."""
    package = Path(__file__).resolve().parent
    files = [*sorted(sql_folder().rglob("*.sql")), *sorted(path for path in package.rglob("*") if _is_source(path))]
    return digest(repr((__version__, [(path.name, digest_file(path)) for path in files])))


def _is_source(path: Path) -> bool:
    return path.is_file() and path.suffix in {".py", ".toml", ".j2", ".css", ".js", ".po"}
