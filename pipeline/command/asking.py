"""Commands that ask the last run: what is loaded, what was set aside, the lines behind a figure, one incident."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from pipeline.command.completing import complete_figure, complete_incident
from pipeline.command.options import (
    SHOWN,
    AsJson,
    Channel,
    Database,
    Limit,
    Machine,
    Month,
    Out,
    Quiet,
    Site,
    site_and,
    site_of,
)
from pipeline.command.terminal import print_json, strong

LONGEST = 200  # characters shown of a row
Figure = Annotated[
    str,
    typer.Argument(
        help="Its name; without one the names are listed.",
        metavar="[FIGURE]",
        show_default=False,
        autocompletion=complete_figure,
    ),
]
Incident = Annotated[
    str,
    typer.Argument(
        help="Its id, as pages name it; or name a time.",
        metavar="[ID]",
        show_default=False,
        autocompletion=complete_incident,
    ),
]


def setaside_command(
    site: Site = None,
    feed: Annotated[str, typer.Option("--feed", help="Only rows of this feed.")] = "",
    file: Annotated[str, typer.Option("--file", help="Only rows of this file.")] = "",
    reason: Annotated[str, typer.Option("--reason", help="Only rows whose reason holds this text.")] = "",
    limit: Limit = SHOWN,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """List the rows of SITE that do not count, each with its file, its line, the reason and its text."""
    from pipeline.answers import read_set_aside  # noqa: PLC0415

    rows = read_set_aside(site_of(site), database, feed=feed, file=file, reason=reason)
    if as_json:
        print(rows.write_json())
        return
    for row in rows.head(limit or rows.height).iter_rows(named=True):
        print(f"{row['file']}, line {row['line']}: {row['reason']}\n    {_one_line(row['text'])}")
    print(f"{rows.height} rows set aside{_rest(rows.height, limit)}")


def loaded_command(
    site: Site = None,
    history: Annotated[bool, typer.Option("--history", help="What each load did, in order.")] = False,
    missing: Annotated[bool, typer.Option("--missing", help="Only to what date, and what is missing.")] = False,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """List what SITE's database holds, to what date, and what is missing.

    The files: rows read = kept + repeats + set aside, and from when to when they speak. Then each feed, the feeds
    without a file, the broadcast days on which a log has no line, and the files that are not loaded as they now are.
    """
    folder = site_of(site)
    if missing:
        _tell_missing(folder, database, as_json=as_json)
        return
    _tell_files(folder, database, history=history, as_json=as_json)
    if not history and not as_json:
        print()
        _tell_missing(folder, database, as_json=False)


def _tell_files(site: Path, database: Path | None, *, history: bool, as_json: bool) -> None:
    from pipeline.answers import read_files, read_history, read_withdrawn  # noqa: PLC0415

    rows = read_history(site, database) if history else read_files(site, database)
    if as_json:
        print(rows.write_json())
        return
    for row in rows.iter_rows(named=True):
        print(_told_load(row) if history else _told_file(row))
    for file, sha256 in read_withdrawn(site, database).iter_rows():
        print(f"{file}: withdrawn (sha256 {sha256[:12]})")


def _tell_missing(site: Path, database: Path | None, *, as_json: bool) -> None:
    from pipeline.loaded_answers import loaded_text, read_loaded  # noqa: PLC0415

    loaded = read_loaded(site, database)
    if as_json:
        print_json(loaded)
        return
    head, _, rest = loaded_text(loaded).partition("\n")
    print(f"{strong(head)}\n{rest}")


def lines_command(
    site: Site = None,
    figure: Figure = "",
    *,
    month: Month = "",
    channel: Channel = "",
    machine: Machine = "",
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

    folder, name = site_and(site, figure)
    scope = Scope(month, channel, machine, file, cause, pattern)
    answer = answer_lines(folder, name, scope, limit=limit, database=database)
    print_json(answer.data) if as_json else print(answer.text)


def incident_command(
    site: Site = None,
    incident: Incident = "",
    *,
    at: Annotated[str, typer.Option("--at", help="A minute or second, as the site's clocks showed it.")] = "",
    until: Annotated[str, typer.Option("--until", help="To which time; without it that minute or second.")] = "",
    channel: Channel = "",
    out: Out = None,
    database: Database = None,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Tell one incident of SITE, or what a time on a channel holds, with its lines, and write its page."""
    from pipeline.incident_answers import Question, answer_incident  # noqa: PLC0415

    folder, name = site_and(site, incident)
    answer = answer_incident(folder, Question(name, at, until, channel), out=out, database=database)
    if as_json:
        print_json({**answer.data, "page": str(answer.page)})
        return
    if quiet:
        print(answer.page)
        return
    print(f"{answer.text}\n\npage {answer.page}")
    if not answer.has_run:
        print(f"Pages it links to are not there: airhours run {folder} --out {answer.page.parent} writes them.")


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
    shown = "".join(character if character.isprintable() else " " for character in text[:LONGEST])
    return shown + ("…" if len(text) > LONGEST else "")


def _rest(count: int, limit: int) -> str:
    return f"; {count - limit} more with --limit 0" if 0 < limit < count else ""
