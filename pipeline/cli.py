"""The command ``airhours``: its commands and their examples, and how each ends. The only exit."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from typing import Annotated, NoReturn

import typer

from pipeline import __version__
from pipeline.command import asking, beginning, giving, keeping, paging, running, simulating
from pipeline.command.options import DONE, REFUSED, examples
from pipeline.errors import AirhoursError

TRACE = "AIRHOURS_TRACE"
COMMANDS: dict[str, tuple[Callable[..., None], tuple[str, ...]]] = {
    "new": (beginning.new_command, ("airhours new our_room",)),
    "map": (
        beginning.map_command,
        ("airhours map sample_logs/tickets.csv", "airhours map sample_logs/tickets.csv --kind tickets --json"),
    ),
    "simulate": (
        simulating.simulate_command,
        (
            "airhours simulate invented --days 1 --faults 200",
            "airhours simulate rough --days 2 --clock-error 90 --mess 0.01 --quiet",
            "airhours simulate small --days 1 --lines 20000 --json",
        ),
    ),
    "run": (
        running.run_command,
        (
            "airhours run sample_logs",
            "airhours run sample_logs --quiet --wait 600 --log nightly.log",
            "airhours run sample_logs --json",
        ),
    ),
    "loaded": (
        asking.loaded_command,
        (
            "airhours loaded sample_logs",
            "airhours loaded sample_logs --missing --json",
            "airhours loaded sample_logs --history",
        ),
    ),
    "setaside": (
        asking.setaside_command,
        ("airhours setaside sample_logs --feed tickets", "airhours setaside sample_logs --reason time --json"),
    ),
    "retry": (running.retry_command, ("airhours retry sample_logs",)),
    "withdraw": (
        running.withdraw_command,
        (
            "airhours withdraw sample_logs events/VT1_2031-04.csv",
            "airhours withdraw sample_logs events/VT1_2031-04.csv --back",
        ),
    ),
    "figures": (
        giving.figures_command,
        (
            "airhours figures sample_logs --month 2031-03 --table",
            "airhours figures sample_logs --machine VT1 --csv",
            "airhours figures sample_logs > figures.json",
        ),
    ),
    "lines": (
        asking.lines_command,
        (
            "airhours lines sample_logs",
            "airhours lines sample_logs lost_s --month 2031-03 --limit 5",
            "airhours lines sample_logs demands_met --machine VT1 --json",
        ),
    ),
    "incident": (
        asking.incident_command,
        (
            "airhours incident sample_logs 20310316-062602-one",
            'airhours incident sample_logs --at "2031-03-16 07:26" --channel One',
            "airhours incident sample_logs 20310316-062602-one --out to_attach --quiet",
        ),
    ),
    "report": (
        paging.report_command,
        (
            "airhours report month sample_logs --month 2031-03 --text",
            "airhours report incident sample_logs --incident 20310316-062602-one --out to_attach",
            "airhours report transports sample_logs",
            "airhours report all sample_logs",
        ),
    ),
    "open": (
        paging.open_command,
        (
            "airhours open sample_logs",
            "airhours open sample_logs 2031-03",
            "airhours open sample_logs 20310316-062602-one",
        ),
    ),
    "export": (giving.export_command, ("airhours export sample_logs parquet_tables",)),
    "backup": (keeping.backup_command, ("airhours backup sample_logs room.zip --replace",)),
    "restore": (keeping.restore_command, ("airhours restore room.zip sample_logs --replace",)),
    "upgrade": (running.upgrade_command, ("airhours upgrade sample_logs",)),
    "archive": (
        keeping.archive_command,
        ("airhours archive sample_logs --before 2031-04", "airhours archive sample_logs --back"),
    ),
    "compact": (keeping.compact_command, ("airhours compact sample_logs",)),
}

app = typer.Typer(
    name="airhours",
    help="How continuous the air was, whether protection was there, and what happened: from a room's own logs.",
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    epilog=examples("airhours run sample_logs", "airhours open sample_logs", "airhours report --help"),
)
for _name, (_command, _examples) in COMMANDS.items():
    app.command(_name, epilog=examples(*_examples))(_command)


@app.callback(invoke_without_command=True)
def top(
    context: typer.Context, version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False
) -> None:
    """How continuous the air was, whether protection was there, and what happened: from a room's own logs."""
    if version:
        print(f"airhours {__version__}")
    elif context.invoked_subcommand is None:
        print(context.get_help())


def main() -> None:
    """Run the command; a user's mistake ends in one plain line and status 2."""
    try:
        status = app(standalone_mode=False)
    except AirhoursError as error:
        _refuse(str(error))
    except typer.TyperException as error:
        told = error.format_message() if hasattr(error, "format_message") else str(error)
        _refuse(f"{' '.join(told.split()).rstrip('.')}. See airhours --help.")
    except typer.Abort:
        _refuse("stopped before the end; everything is as it was before.")
    except Exception as error:  # a fault of ours still ends in one line; the trace is there for whoever mends it
        if os.environ.get(TRACE):
            raise
        told = " ".join(f"{type(error).__name__}: {error}".split())[:300]
        _refuse(f"a fault of the program, not of your files: {told}. Set {TRACE}=1 to see where.")
    else:
        sys.exit(status if isinstance(status, int) else DONE)


def _refuse(sentence: str) -> NoReturn:
    print(f"airhours: {sentence}", file=sys.stderr)
    sys.exit(REFUSED)
