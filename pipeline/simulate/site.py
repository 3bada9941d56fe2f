"""The door: a site folder written from parameters, and the true answer beside it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import polars as pl

from pipeline.errors import OutputError
from pipeline.simulate import papers
from pipeline.simulate.booked import book_transmissions
from pipeline.simulate.chatter import chatter_for
from pipeline.simulate.clocks import ClockErrors, clock_errors
from pipeline.simulate.logs import Rows, Written, as_of_us, hidden_us, machine_logs, scripted_lines, write_log
from pipeline.simulate.mess import mess_feed, row_fates
from pipeline.simulate.parameters import SECOND, Parameters
from pipeline.simulate.scenes import deal_scenes, play_scenes
from pipeline.simulate.texts import read_me, site_toml
from pipeline.simulate.tickets import write_tickets
from pipeline.simulate.truth import Stated, answer, state_by_month

Told = Callable[[str], None]
MESSED = {"bookings": "starts", "switches": "at", "tickets": "opened"}  # and the column of their time
FEEDS_FROM = 10_000  # numbers of feeds, beyond those of machines


@dataclass(frozen=True)
class Simulated:
    """What was written: the folder, its event lines, rows and bytes of all feeds."""

    site: Path
    event_lines: int
    rows: int
    size_bytes: int


def simulate_site(out: Path, parameters: Parameters, told: Told = lambda _: None) -> Simulated:
    """Write a site folder: ``site.toml``, feeds, registers, README.md and truth.json. Same parameters, same bytes.

    Memory does not grow with the lines: events are made and written a machine and month, and a million lines, at
    a time; only the scenes of all transmissions are held.

    Raises:
        QuestionError: parameters that cannot be met.
        OutputError: the folder holds something already, or cannot be written.
    """
    shows = book_transmissions(parameters)
    dealt = deal_scenes(parameters, shows)
    script = play_scenes(parameters, shows, dealt)
    events, counts = script.table("events"), script.table("counts")
    chatter = chatter_for(parameters, scripted_lines(parameters, script), hidden_us(script))
    ticketed = write_tickets(parameters, counts, as_of_us(parameters))
    errors = clock_errors(parameters, events)
    small = {
        "bookings": papers.bookings(parameters, shows, dealt),
        "switches": papers.switches(parameters, script.table("switches")),
        "tickets": papers.tickets(parameters, ticketed.tickets),
        "machines": papers.machines(parameters),
        "reels": papers.reels(parameters),
    }
    stated = Stated(script.table("spans"), counts, pl.concat([script.table("times"), ticketed.times]))
    try:
        _make(out)
        files = list(_write_small(out, parameters, small))
        for log in machine_logs(parameters, script, errors.error_us):
            told(f"writing the log of {log.machine}")
            files += write_log(out, log, chatter)
        return _close(out, parameters, stated, files=files, errors=errors)
    except OSError as error:
        raise OutputError(f'"{out}" cannot be written: {error.strerror}. Name a folder you may write in.') from None


def _make(out: Path) -> None:
    if out.exists() and any(out.iterdir()):
        raise OutputError(f'"{out}" is not empty. Name a new folder: nothing is written over.')
    (out / "events").mkdir(parents=True, exist_ok=True)


def _write_small(out: Path, parameters: Parameters, frames: dict[str, pl.DataFrame]) -> Iterator[Written]:
    for number, (feed, frame) in enumerate(frames.items()):
        rows, counted = frame, Rows(frame.height)
        if parameters.mess and feed in MESSED:
            instants = pl.Series(frame[MESSED[feed]]).str.to_datetime("%Y-%m-%dT%H:%M:%S%.6fZ", time_unit="us")
            fates = row_fates(parameters, FEEDS_FROM + number, instants.cast(pl.Int64).to_numpy())
            messed = mess_feed(frame, fates, MESSED[feed])
            rows, counted = messed.rows, Rows(frame.height, messed.repeats, messed.set_aside)
        path = out / f"{feed}.csv"
        rows.select(pl.all().replace("", None)).write_csv(path)
        yield Written(path.name, feed, counted, path.stat().st_size)


def _close(
    out: Path, parameters: Parameters, stated: Stated, *, files: list[Written], errors: ClockErrors
) -> Simulated:
    lines = sum(file.rows.read for file in files if file.feed == "events")
    names = {"channels": papers.channel_names(parameters), "machines": parameters.machines}
    truth = {
        "parameters": {name: str(value) for name, value in asdict(parameters).items()},
        "as_of": f"{np.datetime64(as_of_us(parameters), 'us')}Z",
        "rows": _counted(sum((file.rows for file in files), Rows())),
        "files": [{"path": file.path, "feed": file.feed, **_counted(file.rows)} for file in files],
        **answer(state_by_month(stated, parameters.month_edges()), names),
        "clocks": [
            {"machine": machine, "offset_s": us / SECOND, "pairs": pairs}
            for machine, us, pairs in zip(parameters.machines, errors.error_us, errors.pairs, strict=True)
        ],
    }
    (out / "site.toml").write_text(site_toml(parameters), encoding="utf-8")
    (out / "README.md").write_text(read_me(parameters, lines), encoding="utf-8")
    (out / "truth.json").write_text(json.dumps(truth, indent=1) + "\n", encoding="utf-8")
    rows = sum(file.rows.read for file in files)
    return Simulated(out, lines, rows, sum(file.size_bytes for file in files))


def _counted(rows: Rows) -> dict[str, int]:
    return {"read": rows.read, "kept": rows.kept, "repeats": rows.repeats, "set_aside": rows.set_aside}
