"""Lays out a new site folder, so that nobody has to begin with an empty site.toml."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from pipeline.errors import SiteError
from pipeline.settings import FILE

README = "README.txt"
EVENTS = "events"
TEMPLATES = {FILE: "site_template.toml", README: "site_readme.txt"}


def new_site(folder: Path) -> list[Path]:
    """Make the site folder ``folder`` with a commented site.toml, a page on what goes where, and a folder for events.

    Returns what was made. A README.txt that is there already is left as it is.

    Raises:
        SiteError: there is a site.toml already, or the folder cannot be written.
    """
    try:
        return _write(folder)
    except FileExistsError as error:
        told = f'"{error.filename}" is there already and was left as it is. Choose another folder, or edit that file.'
        raise SiteError(told) from None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise SiteError(f'"{folder}" cannot be made a site folder: {why}. Choose a place you may write to.') from None


def _write(folder: Path) -> list[Path]:
    if folder.exists() and not folder.is_dir():
        raise SiteError(f'"{folder}" is a file. Expected the name of a folder to make.')
    folder.mkdir(parents=True, exist_ok=True)
    made: list[Path] = []
    for name, template in TEMPLATES.items():
        path = folder / name
        if name == README and path.exists():
            continue
        with path.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(files(__package__).joinpath(template).read_text(encoding="utf-8"))
        made.append(path)
    events = folder / EVENTS
    if not events.is_dir():
        events.mkdir()
        made.append(events)
    return made
