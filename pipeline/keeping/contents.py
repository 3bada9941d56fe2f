"""What a backup file holds, and how it is told true: the list of its members with their sums, held to a form.

A backup is a ZIP archive whose members are stored as they are: ``tables/TABLE.parquet`` for each table,
``site/FILE`` for what people wrote (site.toml and the rulings), and ``manifest.json``. A file may come from anywhere,
so whatever of it becomes a name on the disk or in the database is looked at first.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import PurePosixPath
from typing import Any

from pipeline.errors import QuestionError
from pipeline.places import SETTINGS

KIND = "airhours backup"
LAYOUT = 1
MANIFEST = "manifest.json"
NAME = re.compile(r"[a-z][a-z0-9_]*")
COLUMN = re.compile(r"[^\x00-\x1f\x7f]{1,200}")
SQL_TYPE = re.compile(r"[A-Z][A-Z0-9_ ]*(\(\d+(, ?\d+)?\))?(\[\])*")
SUM = re.compile(r"[0-9a-f]{64}")
PART = re.compile(r'[^\x00-\x1f\x7f/\\:*?"<>|.~][^\x00-\x1f\x7f/\\:*?"<>|]*')
EXACT = re.compile(r"BIGINT|INTEGER|SMALLINT|TINYINT|BOOLEAN|DOUBLE|FLOAT|VARCHAR|DATE|TIMESTAMP|DECIMAL\(\d+,\d+\)")
"""Types that Parquet holds exactly; a column of any other travels as text."""


@dataclass(frozen=True)
class TableMember:
    """A table: its rows, its columns with their types, and the sum of its Parquet file."""

    table: str
    rows: int
    sha256: str
    columns: tuple[tuple[str, str], ...]

    @property
    def member(self) -> str:
        """Its name in the archive."""
        return f"tables/{self.table}.parquet"


@dataclass(frozen=True)
class FileMember:
    """A file that a person wrote, by its name in the site folder."""

    file: str
    sha256: str

    @property
    def member(self) -> str:
        """Its name in the archive."""
        return f"site/{self.file}"


@dataclass(frozen=True)
class Contents:
    """The manifest: of which site, until when its data go, by which program and schema, its views, and the members.

    Of a view there is the name alone: what it selects is the program's, and no statement is taken from a file.
    """

    site: str
    as_of: str
    made_by: str
    schema_version: int
    views: tuple[str, ...]
    tables: tuple[TableMember, ...]
    files: tuple[FileMember, ...]

    @property
    def members(self) -> list[str]:
        """The names in the archive, but for the manifest's own."""
        return [*(each.member for each in self.tables), *(each.member for each in self.files)]

    def text(self) -> str:
        """The manifest as JSON."""
        return json.dumps({"kind": KIND, "layout": LAYOUT, **asdict(self)}, indent=1, ensure_ascii=False) + "\n"


def read_contents(text: bytes, file: str) -> Contents:
    """The manifest of the backup ``file``, each of its parts held to its form.

    Raises:
        QuestionError: it is no manifest of ours, or names what no backup of ours would.
    """
    try:
        told = json.loads(text)
        if (told["kind"], told["layout"]) != (KIND, LAYOUT):
            raise ValueError  # noqa: TRY301 - told below, with all else that may be wrong
        contents = Contents(
            site=str(told["site"]),
            as_of=str(told["as_of"]),
            made_by=str(told["made_by"]),
            schema_version=int(told["schema_version"]),
            views=tuple(_matching(NAME, each) for each in told["views"]),
            tables=tuple(_table(each) for each in told["tables"]),
            files=tuple(FileMember(_file_name(each["file"]), _matching(SUM, each["sha256"])) for each in told["files"]),
        )
    except (ValueError, KeyError, TypeError, RecursionError):
        raise not_a_backup(file, "its manifest is not one that airhours backup writes") from None
    names = contents.members
    if len({name.lower() for name in names}) != len(names) or SETTINGS not in {each.file for each in contents.files}:
        raise not_a_backup(file, "its manifest names a member twice, or no site.toml")
    return contents


def not_a_backup(file: str, why: str) -> QuestionError:
    """The error for a file that cannot be restored."""
    return QuestionError(f'"{file}" cannot be restored: {why}. Nothing was changed; take another backup.')


def _table(told: Mapping[str, Any]) -> TableMember:
    columns = tuple((_matching(COLUMN, name), _matching(SQL_TYPE, kind)) for name, kind in told["columns"])
    return TableMember(_matching(NAME, told["table"]), int(told["rows"]), _matching(SUM, told["sha256"]), columns)


def _file_name(name: object) -> str:
    """A name below the site folder: no way up, no root, no drive, nothing hidden, no other spelling of the same."""
    text = str(name)
    parts = text.split("/")
    if not all(PART.fullmatch(part) for part in parts) or PurePosixPath(text).as_posix() != text:
        raise ValueError
    return text


def _matching(form: re.Pattern[str], text: object) -> str:
    if not isinstance(text, str) or not form.fullmatch(text):
        raise ValueError
    return text
