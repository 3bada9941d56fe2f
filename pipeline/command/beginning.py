"""Commands with which a room begins: lay out a site folder, look at an export."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipeline.command.options import AsJson
from pipeline.command.terminal import print_json


def map_command(
    file: Annotated[Path, typer.Argument(help="A file as the room exports it.", show_default=False)],
    kind: Annotated[str, typer.Option("--kind", help="What it is: events, switches, tickets, bookings …")] = "",
    as_json: AsJson = False,
) -> None:
    """Look at FILE and propose the [[feeds]] table that reads it, with reasons and what could not be decided."""
    from pipeline.ingest.propose import propose_table  # noqa: PLC0415

    proposal = propose_table(file, kind=kind)
    print_json({"table": proposal.text, "undecided": proposal.undecided}) if as_json else print(proposal.text)


def new_command(
    site: Annotated[Path, typer.Argument(help="The folder to make.", show_default=False)], as_json: AsJson = False
) -> None:
    """Lay out a site folder SITE with a commented site.toml."""
    from pipeline.ingest.propose import new_site  # noqa: PLC0415

    written = [str(path) for path in new_site(site)]
    print_json(written) if as_json else print("\n".join(written))
