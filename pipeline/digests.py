"""Sums by which bytes are known again: SHA-256 in hex."""

from __future__ import annotations

import hashlib
from pathlib import Path


def digest_file(path: Path) -> str:
    """The sha256 of a file's bytes."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def digest(text: str) -> str:
    """The sha256 of a text."""
    return hashlib.sha256(text.encode()).hexdigest()
