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
from pipeline.progress import Narrator

app = typer.Typer(
    name="airhours",
    help="How continuous the air was, whether protection was there, and what happened: from a room's own logs.",
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

DONE, DOUBTED, REFUSED = 0, 1, 2
TRACE = "AIRHOURS_TRACE"
SHOWN = 20  # rows printed unless more are asked for

Site = Annotated[Path, typer.Argument(help="The site folder: site.toml and the feeds.", show_default=False)]
FileName = Annotated[str, typer.Argument(help="The file, as airhours loaded names it.", show_default=False)]
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
    _run(site, out, database, quiet=quiet, as_json=as_json)


@app.command("retry")
def retry_command(
    site: Site,
    out: Out = None,
    database: Database = None,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Run SITE, and read every file again of which rows were set aside."""
    _run(site, out, database, quiet=quiet, as_json=as_json, retry=True)


@app.command("withdraw")
def withdraw_command(
    site: Site,
    file: FileName,
    back: Annotated[bool, typer.Option("--back", help="Take the file in again instead.")] = False,
    out: Out = None,
    database: Database = None,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Take FILE out of SITE's database again, exactly, and run SITE without it.

    The file itself stays where it is. It is left out until it is put back or its bytes change.
    """
    request = {"put_back": file} if back else {"withdraw": file}
    _run(site, out, database, quiet=quiet, as_json=as_json, **request)


@app.command("setaside")
def setaside_command(
    site: Site,
    feed: Annotated[str, typer.Option("--feed", help="Only rows of this feed.")] = "",
    file: Annotated[str, typer.Option("--file", help="Only rows of this file.")] = "",
    reason: Annotated[str, typer.Option("--reason", help="Only rows whose reason holds this text.")] = "",
    limit: Annotated[int, typer.Option("--limit", help="Rows to print; 0 for all.", min=0)] = SHOWN,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """List the rows of SITE that do not count, each with its file, its line, the reason and its text."""
    from pipeline.answers import read_set_aside  # noqa: PLC0415

    rows = read_set_aside(site, database, feed=feed, file=file, reason=reason)
    if as_json:
        print(rows.write_json())
        return
    for row in rows.head(limit or rows.height).iter_rows(named=True):
        print(f"{row['file']}, line {row['line']}: {row['reason']}\n    {_one_line(row['text'])}")
    print(f"{rows.height} rows set aside{_rest(rows.height, limit)}")


@app.command("loaded")
def loaded_command(
    site: Site,
    history: Annotated[bool, typer.Option("--history", help="What each load did, in order.")] = False,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """List the files SITE's database holds: rows read, kept, repeats, set aside, and from when to when they speak."""
    from pipeline.answers import read_files, read_history, read_withdrawn  # noqa: PLC0415

    rows = read_history(site, database) if history else read_files(site, database)
    if as_json:
        print(rows.write_json())
        return
    for row in rows.iter_rows(named=True):
        print(_told_load(row) if history else _told_file(row))
    for file, sha256 in read_withdrawn(site, database).iter_rows():
        print(f"{file}: withdrawn (sha256 {sha256[:12]})")


@app.command("figures")
def figures_command(site: Site, database: Database = None) -> None:
    """Print the figures of the last run of SITE as JSON."""
    from pipeline.answers import read_figures  # noqa: PLC0415

    print(json.dumps(read_figures(site, database), indent=1, ensure_ascii=False))


@app.command("lines")
def lines_command(
    site: Site,
    figure: Annotated[str, typer.Argument(help="Its name; without one the names are listed.", metavar="[FIGURE]")] = "",
    *,
    month: Annotated[str, typer.Option("--month", help="Of this month, such as 2031-03.")] = "",
    channel: Annotated[str, typer.Option("--channel", help="Of this channel.")] = "",
    machine: Annotated[str, typer.Option("--machine", help="Of this machine.")] = "",
    file: Annotated[str, typer.Option("--file", help="Of this file, as airhours loaded names it.")] = "",
    cause: Annotated[str, typer.Option("--cause", help='Of this cause, such as "top: second".')] = "",
    pattern: Annotated[str, typer.Option("--pattern", help='Of what comes back, such as "reel: K1705-1A".')] = "",
    limit: Annotated[int, typer.Option("--limit", help="Lines to print; 0 for all.", min=0)] = SHOWN,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """List what FIGURE of SITE is added up from, each line with the source rows that prove where it begins and ends."""
    from pipeline.evidence import Scope  # noqa: PLC0415
    from pipeline.lines_answers import answer_lines  # noqa: PLC0415

    scope = Scope(month, channel, machine, file, cause, pattern)
    answer = answer_lines(site, figure, scope, limit=limit, database=database)
    print(json.dumps(answer.data) if as_json else answer.text)


@app.command("incident")
def incident_command(
    site: Site,
    incident: Annotated[str, typer.Argument(help="Its id, as pages name it; or name a time.", metavar="ID")] = "",
    at: Annotated[str, typer.Option("--at", help="A minute or second, as the site's clocks showed it.")] = "",
    until: Annotated[str, typer.Option("--until", help="To which time; without it that minute or second.")] = "",
    channel: Annotated[str, typer.Option("--channel", help="The channel that was watched then.")] = "",
    out: Out = None,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Tell one incident of SITE, or what a time on a channel holds, with its lines, and write its page."""
    from pipeline.incident_answers import Question, answer_incident  # noqa: PLC0415

    answer = answer_incident(site, Question(incident, at, until, channel), out=out, database=database)
    if as_json:
        print(json.dumps({**answer.data, "page": str(answer.page)}))
        return
    print(f"{answer.text}\n\npage {answer.page}")
    if not answer.has_run:
        print(f"Pages it links to are not there: airhours run {site} --out {answer.page.parent} writes them.")


@app.command("map")
def map_command(
    file: Annotated[Path, typer.Argument(help="A file as the room exports it.", show_default=False)],
    kind: Annotated[str, typer.Option("--kind", help="What it is: events, switches, tickets, bookings …")] = "",
    as_json: AsJson = False,
) -> None:
    """Look at FILE and propose the [[feeds]] table that reads it, with reasons and what could not be decided."""
    from pipeline.ingest.propose import propose_table  # noqa: PLC0415

    proposal = propose_table(file, kind=kind)
    print(json.dumps({"table": proposal.text, "undecided": proposal.undecided}) if as_json else proposal.text)


@app.command("new")
def new_command(
    site: Annotated[Path, typer.Argument(help="The folder to make.", show_default=False)], as_json: AsJson = False
) -> None:
    """Lay out a site folder SITE with a commented site.toml."""
    from pipeline.ingest.propose import new_site  # noqa: PLC0415

    written = [str(path) for path in new_site(site)]
    print(json.dumps(written) if as_json else "\n".join(written))


def _run(site: Path, out: Path | None, database: Path | None, *, quiet: bool, as_json: bool, **request: Any) -> None:
    from pipeline.flow import Request, run_site  # noqa: PLC0415 - the libraries behind it cost what --help need not pay

    narrator = Narrator(is_silent=quiet)
    with narrator:
        result = run_site(
            site,
            out=out,
            database=database,
            narrate=narrator.say,
            request=Request(**request),
            progress=narrator.show,
        )
    print(json.dumps(_summary(result)) if as_json else _told(result, quiet=quiet))
    if result.is_stopped:
        narrator.say(
            "a data check of the stop kind failed: the first page says which, and what it may do to the figures"
        )
        raise typer.Exit(DOUBTED)


def _summary(result: Any) -> dict[str, Any]:
    return {
        "index": str(result.index),
        "is_changed": result.is_changed,
        "is_stopped": result.is_stopped,
        "files": [{"file": load.file, "action": load.action, "rows": load.rows} for load in result.load.files],
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


def _told_file(row: dict[str, Any]) -> str:
    span = (
        f", {row['first_at_utc']:%Y-%m-%d %H:%M} to {row['last_at_utc']:%Y-%m-%d %H:%M} UTC"
        if row["last_at_utc"]
        else ""
    )
    counts = (row["read_count"], row["kept_count"], row["repeat_count"], row["set_aside_count"])
    told = "read {}, kept {}, repeats {}, set aside {}".format(*counts)
    return f"{row['file']} ({row['feed']}): {told}{span}"


def _told_load(row: dict[str, Any]) -> str:
    was = f", before it {row['was_sha256'][:12]}" if row["was_sha256"] else ""
    told = f"{row['file']}: {row['action']}, {row['rows_count']} rows (sha256 {row['sha256'][:12]}{was})"
    return f"load {row['load_no']}, {row['loaded_at_utc']:%Y-%m-%d %H:%M:%S} UTC: {told}"


def _one_line(text: str) -> str:
    shown = "".join(character if character.isprintable() else " " for character in text[:200])
    return shown + ("…" if len(text) > 200 else "")


def _rest(count: int, limit: int) -> str:
    return f"; {count - limit} more with --limit 0" if 0 < limit < count else ""


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
