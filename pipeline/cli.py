"""The command ``airhours``: parse, call the flow, print, exit status. The only print and the only exit."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import Annotated, Any, NoReturn

import typer

from pipeline import __version__
from pipeline.errors import AirhoursError

app = typer.Typer(
    name="airhours",
    help="How continuous the air was, whether protection was there, and what happened: from a room's own logs.",
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

DONE, DOUBTED, REFUSED = 0, 1, 2
TRACE = "AIRHOURS_TRACE"

Site = Annotated[Path, typer.Argument(help="The site folder: site.toml and the feeds.", show_default=False)]
Out = Annotated[Path | None, typer.Option("--out", help="Where the pages go; SITE/reports unless named.")]
Database = Annotated[
    Path | None, typer.Option("--database", help="The database file; SITE/airhours.duckdb unless named.")
]
Quiet = Annotated[bool, typer.Option("--quiet", help="Say nothing on the way; print the page only.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]


@app.callback(invoke_without_command=True)
def top(
    context: typer.Context, version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False
) -> None:
    """How continuous the air was, whether protection was there, and what happened: from a room's own logs."""
    if version:
        print(f"airhours {__version__}")
    elif context.invoked_subcommand is None:
        print(context.get_help())


@app.command("run")
def run_command(
    site: Site,
    out: Out = None,
    database: Database = None,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Load SITE, check it, measure it and write its pages; safe to repeat.

    Exit status: 0 done; 1 done, but a data check of the stop kind failed; 2 not done, one line says why.
    """
    from pipeline.flow import run_site  # noqa: PLC0415 - the libraries behind it cost what --help need not pay

    result = run_site(site, out=out, database=database, narrate=_silent if quiet else _narrate)
    print(json.dumps(_summary(result)) if as_json else _told(result, quiet=quiet))
    if result.is_stopped:
        _narrate("a data check of the stop kind failed: the first page says which, and what it may do to the figures")
        raise typer.Exit(DOUBTED)


@app.command("figures")
def figures_command(site: Site, database: Database = None) -> None:
    """Print the figures of the last run of SITE as JSON."""
    from pipeline.flow import read_figures  # noqa: PLC0415

    print(json.dumps(read_figures(site, database), indent=1, ensure_ascii=False))


def _summary(result: Any) -> dict[str, Any]:
    return {
        "index": str(result.index),
        "is_changed": result.is_changed,
        "is_stopped": result.is_stopped,
        "rows": result.figures["rows"],
        "total": result.figures["total"],
    }


def _told(result: Any, *, quiet: bool) -> str:
    if quiet:
        return str(result.index)
    rows, total = result.figures["rows"], result.figures["total"]
    continuity = total["continuity"]
    share = "not known" if continuity is None else f"{continuity * 100:.4f} %"
    return "\n".join(
        (
            f"{result.figures['site']}",
            "rows " + ", ".join(f"{name.replace('_', ' ')} {count}" for name, count in rows.items()),
            f"air {total['air_s'] / 3600:.2f} h, continuity of logged programme {share}",
            f"interruptions {total['interruptions']}, protect switches {total['protect_switches']}",
            f"open {result.index}",
        )
    )


def _narrate(sentence: str) -> None:
    print(sentence, file=sys.stderr)


def _silent(sentence: str) -> None:
    """Say nothing."""


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
