"""Commands that give figures and tables to other programs, or show the figures to a person."""

from __future__ import annotations

import json
from typing import Annotated, Any

import typer

from pipeline.command.options import AsJson, Channel, Database, Machine, Month, Quiet, Site, site_and, site_of
from pipeline.command.terminal import in_columns, is_terminal, print_json, strong
from pipeline.errors import QuestionError

AsCsv = Annotated[bool, typer.Option("--csv", help="Print a row a figure, as figures.csv has them.")]
AsTable = Annotated[bool, typer.Option("--table", help="Print names and values in two columns.")]
Folder = Annotated[str, typer.Argument(help="The folder for the Parquet files.", metavar="FOLDER", show_default=False)]


def figures_command(
    site: Site = None,
    month: Month = "",
    channel: Channel = "",
    machine: Machine = "",
    database: Database = None,
    as_csv: AsCsv = False,
    as_table: AsTable = False,
    as_json: AsJson = False,
) -> None:
    """Print the figures of the last run of SITE: all, or those of a month, a channel, a machine, a month and a channel.

    A person at a terminal gets a table, a file or a pipe JSON, unless --csv, --json or --table says otherwise.
    """
    from pipeline.answers import read_figures  # noqa: PLC0415
    from pipeline.figure_answers import FigureGroup, group_figures, group_rows, shown_figures  # noqa: PLC0415
    from pipeline.outputs import as_sheet  # noqa: PLC0415

    if as_csv + as_table + as_json > 1:
        raise QuestionError("Name one of --csv, --json and --table.")
    figures, group = read_figures(site_of(site), database), FigureGroup(month, channel, machine)
    if as_csv:
        print(as_sheet(group_rows(figures, group)).write_csv(), end="")
    elif as_table or (is_terminal() and not as_json):
        print(strong(_head(figures, group.named)))
        print(in_columns(shown_figures(figures, group)))
    else:
        shown = group_figures(figures, group) if group.named else figures
        print(json.dumps(shown, indent=1, ensure_ascii=False))


def _head(figures: dict[str, Any], named: dict[str, str]) -> str:
    of = ", ".join(f"{part} {value}" for part, value in named.items()) or "all"
    return f"{figures['site']}: {of}"


def export_command(
    site: Site = None,
    folder: Folder = "",
    database: Database = None,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Write every table of SITE's database to FOLDER as Parquet; persons are pseudonyms unless site.toml shows them."""
    import pipeline  # noqa: PLC0415

    where, target = site_and(site, folder)
    if not target:
        raise QuestionError("Name the folder for the Parquet files. See airhours export --help.")
    with pipeline.open_site(where, database) as opened:
        paths = opened.export(target)
    if as_json:
        print_json({"folder": target, "files": [path.name for path in paths]})
    else:
        print(target if quiet else f"{len(paths)} tables in {target}")
