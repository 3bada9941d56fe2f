"""Commands that keep a site for years: one file that brings it back, and disk space given back."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from pipeline.command.completing import complete_month
from pipeline.command.options import AsJson, Database, Quiet, Site, site_and, site_of
from pipeline.command.terminal import print_json
from pipeline.errors import QuestionError

BackupFile = Annotated[
    str, typer.Argument(help="The file of the backup, such as our_room.zip.", metavar="FILE", show_default=False)
]
ToSite = Annotated[
    Path | None,
    typer.Argument(help="The folder to bring back; made if it is not there.", metavar="[SITE]", show_default=False),
]
Before = Annotated[
    str,
    typer.Option(
        "--before", help="Archive the months before this one, such as 2031-03.", autocompletion=complete_month
    ),
]
TakeBack = Annotated[bool, typer.Option("--back", help="Take every archived line into the database again.")]
Replace = Annotated[bool, typer.Option("--replace", help="Overwrite what is there.")]


def backup_command(
    site: Site = None,
    file: BackupFile = "",
    *,
    replace: Replace = False,
    database: Database = None,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Write the last run of SITE, its site.toml and its rulings to FILE, from which restore brings it back.

    FILE holds every row that was read, with the names of people in it. The exports themselves are not in it.
    """
    from pipeline.keeping import back_up  # noqa: PLC0415 - the libraries behind it cost what --help need not pay
    from pipeline.keeping.room import megabytes  # noqa: PLC0415

    folder, name = site_and(site, file)
    if not name:
        raise QuestionError("Name the file to write. See airhours backup --help.")
    done = back_up(folder, Path(name), database=database, is_replacing=replace)
    held = done.contents
    if as_json:
        files = [each.file for each in held.files]
        told = {"site": held.site, "as_of": held.as_of, "schema_version": held.schema_version, "files": files}
        print_json({"file": str(done.file), "size_bytes": done.size_bytes, "tables": len(held.tables), **told})
    else:
        told_size = f"{len(held.tables)} tables, data as of {held.as_of}, {megabytes(done.size_bytes)}, in {done.file}"
        print(done.file if quiet else told_size)


def restore_command(
    file: BackupFile,
    site: ToSite = None,
    *,
    replace: Replace = False,
    database: Database = None,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Bring SITE's database, site.toml and rulings back from FILE, as they were when it was written.

    Every sum is proved before anything is touched. Other files of SITE stay as they are.
    """
    from pipeline.keeping import restore  # noqa: PLC0415

    done = restore(Path(file), site_of(site), database=database, is_replacing=replace)
    if as_json:
        told = {"made_by": done.contents.made_by, "schema_version": done.contents.schema_version}
        print_json({"database": str(done.database), "site": done.contents.site, "as_of": done.contents.as_of, **told})
    elif quiet:
        print(done.database)
    else:
        print(f"{done.contents.site}, data as of {done.contents.as_of}, is back in {done.database}")
        print(f"airhours run {done.site} goes on from there; without the exports, airhours upgrade makes the pages.")


def archive_command(
    site: Site = None,
    before: Before = "",
    back: TakeBack = False,
    database: Database = None,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Move SITE's event lines of the months before a month to Parquet, a part a month; no figure or page changes.

    The exports of these months may leave the folder then. With --back the lines come into the database again.
    """
    from pipeline.keeping import archive, take_back  # noqa: PLC0415

    if back == bool(before):
        raise QuestionError(
            "Name a month with --before, or take the archive in with --back. See airhours archive --help."
        )
    folder = site_of(site)
    done = take_back(folder, database) if back else archive(folder, before, database)
    if as_json:
        print_json({**asdict(done), "database": str(done.database)})
    elif quiet:
        print(done.database)
    else:
        what = "back in" if back else "moved out of"
        print(f"{done.lines} event lines of {len(done.months)} months {what} {done.database}")
        names = "the next run takes out unless they come back" if back else "may leave the folder"
        print(f"files that {names}: {len(done.files)}")
        print("".join(f"  {file}\n" for file in done.files), end="")


def compact_command(
    site: Site = None, database: Database = None, quiet: Quiet = False, as_json: AsJson = False
) -> None:
    """Give the disk space of rows that were taken out of SITE's database back; no row changes.

    Needs as much free disk as the database takes. Killed at any point it leaves the old file or the new one.
    """
    from pipeline.keeping import compact  # noqa: PLC0415
    from pipeline.keeping.room import megabytes  # noqa: PLC0415

    done = compact(site_of(site), database)
    if as_json:
        print_json({**asdict(done), "database": str(done.database)})
    elif quiet:
        print(done.database)
    else:
        each = f"{done.is_bytes / done.event_lines:.0f} bytes an event line" if done.event_lines else "no event line"
        print(f"{done.database}: {megabytes(done.was_bytes)} before, {megabytes(done.is_bytes)} now, {each}")
