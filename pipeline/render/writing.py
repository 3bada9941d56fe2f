"""Writing the pages: each file whole or not at all; of an earlier run only what airhours itself wrote is removed."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path

from pipeline.errors import OutputError

LIST = "data/pages.json"
ASSETS = ("assets/airhours.css", "assets/airhours.js")  # what every page asks for, and nothing else
FIND_DATA = "assets/find.js"  # what the pages of the register ask for beside it


def write_pages(out: Path, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write ``files`` (name relative to ``out`` → bytes); returns their paths in order.

    Each is first written to a folder beside its place, then moved there. Pages that an earlier run listed and this one
    does not write are removed; nothing else in ``out`` is touched, and a file with the same bytes is left. While old
    and new pages lie side by side the list names both, so that a run that is killed leaves none unlisted.

    Raises:
        OutputError: ``out`` cannot be written.
    """
    try:
        out.mkdir(parents=True, exist_ok=True)
        earlier = _listed_pages(out)
        _put_all(out, {LIST: _listing(earlier | set(files)), **files})
        for name in sorted(earlier - set(files)):
            (out / name).unlink(missing_ok=True)
        _put_all(out, {LIST: _listing(files)})
    except OSError as error:
        raise _not_writable(out, error) from None
    return tuple(out / name for name in files)


def add_pages(out: Path, files: Mapping[str, bytes]) -> None:
    """Write ``files`` beside what a run left, each whole or not at all; its list and its other pages stay as they are.

    Raises:
        OutputError: ``out`` cannot be written.
    """
    try:
        _put_all(out, files)
    except OSError as error:
        raise _not_writable(out, error) from None


def _not_writable(out: Path, error: OSError) -> OutputError:
    return OutputError(
        f'"{out}" cannot be written: {error.strerror}. Check the folder and its rights, or name another with --out.'
    )


def _put_all(out: Path, files: Mapping[str, bytes]) -> None:
    with tempfile.TemporaryDirectory(prefix=".airhours-", dir=out) as folder:
        for name, content in files.items():
            _put(Path(folder), out, name, content)


def _listing(names: Iterable[str]) -> bytes:
    return json.dumps({"pages": sorted(names)}, ensure_ascii=False, indent=1).encode() + b"\n"


def _put(folder: Path, out: Path, name: str, content: bytes) -> None:
    target = out / name
    if target.is_file() and target.read_bytes() == content:
        return
    draft = folder / name.replace("/", "-")
    draft.write_bytes(content)
    target.parent.mkdir(parents=True, exist_ok=True)
    os.replace(draft, target)  # noqa: PTH105 - the one move that is whole or not at all


def _listed_pages(out: Path) -> set[str]:
    """Names an earlier run listed; only plain page names inside ``out`` are believed."""
    try:
        names = json.loads((out / LIST).read_text(encoding="utf-8"))["pages"]
    except (OSError, ValueError, KeyError, TypeError):
        return set()
    return {name for name in names if isinstance(name, str) and _is_own(name)}


def _is_own(name: str) -> bool:
    path = Path(name)
    is_inside = not path.is_absolute() and ".." not in path.parts
    return is_inside and ((path.suffix == ".html" and len(path.parts) == 1) or name in (*ASSETS, FIND_DATA))
