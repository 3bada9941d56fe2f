"""File systems of a set size, for what happens when there is no room."""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


@contextmanager
def small_disk(folder: Path, size_kib: int) -> Iterator[Callable[[int | str], None]]:
    """A file system of ``size_kib`` at ``folder``; what is yielded gives it another size, or with "ro" closes it.

    Skips the test where mounts are refused.
    """
    folder.mkdir(parents=True, exist_ok=True)
    kind = ["mount", "-t", "tmpfs", "-o", f"size={size_kib}k", "tmpfs", str(folder)]
    try:
        mounted = subprocess.run(kind, capture_output=True, check=False)
    except FileNotFoundError:
        pytest.skip("there is no mount command here")
    if mounted.returncode:
        pytest.skip(f"mounts are refused here: {mounted.stderr.decode().strip()}")
    try:
        yield lambda change: remount(folder, change)
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


def remount(folder: Path, change: int | str) -> None:
    option = f"size={change}k" if isinstance(change, int) else change
    subprocess.run(["mount", "-o", f"remount,{option}", str(folder)], check=True, capture_output=True)
