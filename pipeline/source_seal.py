"""One word for a part of this program, so that what another version of it made can be told."""

from __future__ import annotations

from functools import cache
from hashlib import sha256
from pathlib import Path


@cache
def source_seal(folder: Path) -> str:
    """The sha256 of every Python module in ``folder`` and below."""
    return sha256(b"".join(path.read_bytes() for path in sorted(folder.rglob("*.py")))).hexdigest()
