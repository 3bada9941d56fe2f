"""Arguments and options that several commands share, and what they mean where they are left out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipeline.command.completing import (
    complete_channel,
    complete_machine,
    complete_month,
    complete_site,
)
from pipeline.errors import QuestionError
from pipeline.places import SETTINGS

DONE, DOUBTED, REFUSED = 0, 1, 2
SHOWN = 20  # rows printed unless more are asked for

Site = Annotated[
    Path | None,
    typer.Argument(
        help="The site folder: site.toml and the feeds; the current folder where it is one.",
        metavar="[SITE]",
        show_default=False,
        autocompletion=complete_site,
    ),
]
Out = Annotated[Path | None, typer.Option("--out", help="Where the pages go; SITE/reports unless named.")]
Database = Annotated[
    Path | None, typer.Option("--database", help="The database file; SITE/airhours.duckdb unless named.")
]
Quiet = Annotated[bool, typer.Option("--quiet", help="Say nothing on the way; print the page only.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]
Limit = Annotated[int, typer.Option("--limit", help="Rows to print; 0 for all.", min=0)]
Month = Annotated[str, typer.Option("--month", help="Of this month, such as 2031-03.", autocompletion=complete_month)]
Channel = Annotated[str, typer.Option("--channel", help="Of this channel.", autocompletion=complete_channel)]
Machine = Annotated[str, typer.Option("--machine", help="Of this machine.", autocompletion=complete_machine)]


def examples(*lines: str) -> str:
    """The end of a command's help. The sign \\b keeps the lines as they are."""
    return "\b\n" + "\n".join(("Examples:", *(f"  {line}" for line in lines)))


def site_of(site: Path | None) -> Path:
    """The site that was named, or the current folder where it is one.

    Raises:
        QuestionError: none was named, and the current folder is none.
    """
    if site is not None:
        return site
    if Path(SETTINGS).is_file():
        return Path()
    raise QuestionError(
        f"Name a site folder: the current folder is none, for it has no {SETTINGS}. See airhours --help."
    )


def site_and(site: Path | None, other: str) -> tuple[Path, str]:
    """The site and what was named behind it; in a site folder a lone word that is no other site is the latter."""
    if site is not None and not other and Path(SETTINGS).is_file() and not (site / SETTINGS).is_file():
        return Path(), str(site)
    return site_of(site), other
