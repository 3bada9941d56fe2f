"""Templates compiled once: compiling them takes a second, and a process may render many sites.

They are kept beside the templates as Python keeps its own compiled modules, and under the same conditions: not where
that folder cannot be written, and not where Python was told to leave none.
"""

from __future__ import annotations

import sys
from contextlib import suppress
from pathlib import Path
from types import CodeType

import jinja2
from jinja2.bccache import Bucket, FileSystemBytecodeCache

FOLDER = Path(__file__).parent / "__pycache__"
PATTERN = f"{jinja2.__version__}-%s.template"  # the sign within is of the template's name, and its text is checked


class CompiledTemplates(FileSystemBytecodeCache):
    """Keeps compiled templates in memory, by name and by what is in them, and in ``folder``."""

    def __init__(self, folder: Path = FOLDER) -> None:
        super().__init__(str(folder), PATTERN)
        self._kept: dict[tuple[str, str], CodeType | None] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Give the template's code where it was compiled before."""
        bucket.code = self._kept.get((bucket.key, bucket.checksum))
        if bucket.code is None:
            with suppress(Exception):  # what is no template of ours is as if it were not there
                super().load_bytecode(bucket)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep what was just compiled."""
        self._kept[bucket.key, bucket.checksum] = bucket.code
        if not sys.dont_write_bytecode and Path(self.directory).is_dir():
            with suppress(OSError):
                super().dump_bytecode(bucket)


COMPILED = CompiledTemplates()
