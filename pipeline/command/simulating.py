"""The command that invents a room."""

from __future__ import annotations

import sys
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from pipeline.command.options import AsJson, Quiet
from pipeline.command.terminal import print_json

New = Annotated[Path, typer.Argument(help="The folder to make; it may not hold anything.", show_default=False)]
Seed = Annotated[int, typer.Option("--seed", help="The same seed and options give the same files.")]
Channels = Annotated[int, typer.Option("--channels", help="Channels on air.")]
Pairs = Annotated[int, typer.Option("--pairs", help="Pairs of machines, at least one a channel.")]
Months = Annotated[int, typer.Option("--months", help="Months of logs.")]
Days = Annotated[int, typer.Option("--days", help="Days of logs, instead of months.")]
FirstDay = Annotated[datetime, typer.Option("--first-day", help="The first day, local.", formats=["%Y-%m-%d"])]
Zone = Annotated[str, typer.Option("--zone", help="The site's time zone.")]
DayStarts = Annotated[str, typer.Option("--day-starts", help="When the broadcast day starts, local.")]
Programmes = Annotated[int, typer.Option("--programmes", help="Transmissions a channel and day.")]
Lines = Annotated[int, typer.Option("--lines", help="About so many event lines in all; decides the chatter.")]
Chatter = Annotated[
    float, typer.Option("--lines-per-second", help="Chatter: lines that say nothing new, a machine and second.")
]
Faults = Annotated[float, typer.Option("--faults", help="Faults per 1,000 air h.")]
Handovers = Annotated[float, typer.Option("--handovers", help="Hand-overs per 1,000 air h.")]
Unprotected = Annotated[float, typer.Option("--unprotected", help="Share of transmissions with no protect booked.")]
Missing = Annotated[float, typer.Option("--missing", help="Share of transmissions with a log never saved.")]
ClockError = Annotated[float, typer.Option("--clock-error", help="Largest error of every third machine's clock, s.")]
Mess = Annotated[float, typer.Option("--mess", help="Share of rows repeated, unreadable or in another order.")]


def simulate_command(
    out: New,
    *,
    seed: Seed = 1,
    channels: Channels = 2,
    pairs: Pairs = 4,
    months: Months = 1,
    days: Days = 0,
    first_day: FirstDay = datetime(2031, 3, 1),  # noqa: DTZ001 - a day, no instant
    zone: Zone = "Europe/Stockholm",
    day_starts: DayStarts = "00:00",
    programmes: Programmes = 12,
    lines: Lines = 0,
    lines_per_second: Chatter = 0.02,
    faults: Faults = 20.0,
    handovers: Handovers = 40.0,
    unprotected: Unprotected = 0.02,
    missing: Missing = 0.01,
    clock_error: ClockError = 0.0,
    mess: Mess = 0.0,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Write an invented room of any size to the folder OUT, with the true answer beside it in truth.json."""
    from pipeline.simulate import Parameters, simulate_site  # noqa: PLC0415

    parameters = Parameters(
        seed=seed, channels=channels, pairs=pairs, months=months, days=days, first_day=first_day.date(), zone=zone,
        day_starts=day_starts, programmes=programmes, lines=lines, lines_per_second=lines_per_second, faults=faults,
        handovers=handovers, unprotected=unprotected, missing=missing, clock_error=clock_error, mess=mess,
    )  # fmt: skip
    told = simulate_site(out, parameters, _say_nothing if quiet or as_json else _say)
    if as_json:
        print_json({**asdict(told), "site": str(told.site)})
    else:
        print(told.site if quiet else f"{told.event_lines} event lines, {told.rows} rows in all, in {told.site}")


def _say(sentence: str) -> None:
    print(sentence, file=sys.stderr)


def _say_nothing(_: str) -> None:
    pass
