"""What can go wrong for a user, in words a user can act on: one exception tree and its wording.

Each message says what is wrong with the value in quotes, where (file and line, table or column), what is allowed and
what to do next. A traceback reaching a user is a defect.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from difflib import get_close_matches

SHOWN = 30  # names listed in one line
LONGEST = 60  # characters shown of each


class AirhoursError(Exception):
    """Anything a user can mend; its text is one plain line, and the command ends with status 2."""


class SiteError(AirhoursError):
    """The site folder or its site.toml cannot be used."""


class FeedError(AirhoursError):
    """A feed file cannot be used as a whole."""


class StoreError(AirhoursError):
    """The database cannot be opened or written."""


class CheckError(AirhoursError):
    """A data check could not be decided, which is neither passed nor failed."""


class EngineError(AirhoursError):
    """The second engine cannot be started, or cannot run a model."""


class OutputError(AirhoursError):
    """The out folder cannot be written."""


class BusyError(AirhoursError):
    """Another run holds what this one needs; whoever waits may have it."""


class BusyStoreError(StoreError, BusyError):
    """Another run holds the database."""


class BusyOutputError(OutputError, BusyError):
    """Another run writes into the out folder."""


class FigureError(AirhoursError):
    """There is no such figure, or no such group of figures."""


class QuestionError(AirhoursError):
    """What was asked about is not there, or the question cannot be read."""


def missing_column(file: str, column: str, found: Iterable[str]) -> FeedError:
    """The error for a feed file that lacks a column it cannot do without."""
    names = [name for name in found if name]
    near = get_close_matches(column, names, n=1, cutoff=0.6)
    hint = f' Did you mean to name "{near[0]}" {column}?' if near else f" Add the column {column}."
    return FeedError(f'{file} has no column "{column}". It has: {_listed(names)}.{hint}')


def unmapped_column(file: str, theirs: str, found: Iterable[str]) -> FeedError:
    """The error for a file that lacks a column which its [[feeds]] table names."""
    names = [name for name in found if name]
    near = get_close_matches(theirs, names, n=1, cutoff=0.6)
    hint = f' Did you mean "{near[0]}"?' if near else " Mend the table in site.toml, or export the file again."
    return FeedError(
        f'{file} has no column "{theirs}", which its [[feeds]] table names. It has: {_listed(names)}.{hint}'
    )


def missing_feed(feed: str, pattern: str) -> FeedError:
    """The error for a required feed with no file."""
    return FeedError(f"No {feed} found: the site has no file {pattern}. Put the export there.")


def empty_feed(file: str, columns: Iterable[str]) -> FeedError:
    """The error for a required feed whose files hold not even a header."""
    return FeedError(f"{file} is empty. Expected a header line with {', '.join(columns)}, then a line a row.")


def unreadable(file: str, error: Exception | str) -> FeedError:
    """The error for a file that cannot be opened, unpacked or read as what its name says."""
    why = " ".join(str(getattr(error, "strerror", None) or error).split()) or type(error).__name__
    return FeedError(f'"{file}" cannot be read: {why[:200]}. Export it again, or move it out of the site folder.')


def wrong_setting(file: str, key: str, value: object, allowed: str) -> SiteError:
    """The error for a value in site.toml that is not allowed."""
    return SiteError(f'{file}, key {key}: "{value}" is not allowed. Expected {allowed}.')


def refuse_unknown(keys: Iterable[str], known: Sequence[str], where: str) -> None:
    """Refuse a key that is not among ``known``: one that is mistyped must not be passed over.

    Raises:
        SiteError: it, and the nearest known one.
    """
    for key in keys:
        if key not in known:
            near = get_close_matches(key, known, n=1)
            hint = f" Did you mean {near[0]}?" if near else f" Known keys: {', '.join(known)}."
            raise SiteError(f'{where} has the unknown key "{key}".{hint}')


def foreign_database(path: str, tables: Iterable[str]) -> StoreError:
    """The error for a database that another program made."""
    return StoreError(
        f"{path} is not an airhours database: it holds tables of another program ({_listed(sorted(tables))}). "
        "Move it away and run again, or name another file with --database."
    )


def undecided_check(check_id: str, reason: str) -> CheckError:
    """The error for a check that its judge could not decide."""
    return CheckError(
        f'check "{check_id}" could not be decided: {reason} Compare its entry in suites.toml with its table.'
    )


def _listed(names: list[str]) -> str:
    more = f" and {len(names) - SHOWN} more" if len(names) > SHOWN else ""
    shown = (name if len(name) <= LONGEST else f"{name[:LONGEST]}…" for name in names[:SHOWN])
    return ", ".join(shown) + more or "nothing"
