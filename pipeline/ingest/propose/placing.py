"""The path of a file as a [[feeds]] table writes it: within the site folder, and only for that file."""

from __future__ import annotations

import glob
import re
from pathlib import Path

from pipeline.errors import FeedError
from pipeline.ingest.find import CLEAN
from pipeline.ingest.propose.setting import Findings, Setting
from pipeline.ingest.propose.toml_text import shown, text_value
from pipeline.settings import FILE

NO_PATTERN = re.compile(r"\\|^[A-Za-z]:")  # what a path of a table must not hold; "?" stands for any one character

NO_SITE = "where the file lies in the site folder; it is in none now"


def propose_path(path: Path) -> tuple[str, Findings]:
    """The file's name in messages, and its key ``path``: from the nearest folder above it that holds a site.toml.

    Raises:
        FeedError: its name is not plain text.
    """
    if not CLEAN.fullmatch(path.name):
        raise FeedError(f"{path.name!a} has a name that is not plain UTF-8 text. Rename it and run again.")
    site = _site_of(path)
    file = path.absolute().relative_to(site).as_posix() if site else path.name
    if not CLEAN.fullmatch(file):
        raise FeedError(f"{file!a} is in a folder whose name is not plain UTF-8 text. Rename it and run again.")
    pattern = NO_PATTERN.sub(lambda match: "?" * len(match[0]), glob.escape(file))
    alike = shown(f"*{path.suffix}")
    why = f"a pattern such as {alike} takes all files of this make" if site else NO_SITE
    undecided = (
        ("path: names that begin with a point are passed over. Rename the file.",) if path.name.startswith(".") else ()
    )
    return file, Findings((Setting("path", text_value(pattern), why),), undecided=undecided)


def _site_of(path: Path) -> Path | None:
    try:
        return next((folder for folder in path.absolute().parents if (folder / FILE).is_file()), None)
    except (OSError, ValueError):
        return None
