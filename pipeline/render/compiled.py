"""Templates compiled once a process: compiling them takes a second, and a process may render many sites."""

from __future__ import annotations

from types import CodeType

import jinja2
from jinja2.bccache import Bucket


class CompiledTemplates(jinja2.BytecodeCache):
    """Keeps compiled templates in memory, by name and by what is in them."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, str], CodeType | None] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Give the template's code where it was compiled before."""
        bucket.code = self._kept.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep what was just compiled."""
        self._kept[bucket.key, bucket.checksum] = bucket.code


COMPILED = CompiledTemplates()
