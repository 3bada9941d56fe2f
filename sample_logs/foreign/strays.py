"""The rows of the second room's files that do not belong in the tables, each with the reason why it is set aside."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field


@dataclass
class Strays:
    """How often each kind of row that is set aside stands in each file."""

    counted: Counter[tuple[str, str, str]] = field(default_factory=Counter)

    def note(self, file: str, what: str, why: str, count: int = 1) -> None:
        """Count rows of a kind."""
        self.counted[file, what, why] += count

    def of(self, file: str) -> int:
        """How many rows of a file are set aside."""
        return sum(count for (name, _, _), count in self.counted.items() if name == file)
