"""One key of a proposed table with its reason, and what is found out about a file beside it."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.ingest.propose.toml_text import commented_out, with_reason


@dataclass(frozen=True)
class Setting:
    """A key, its value as TOML, and why. One that is not decided is written as a comment."""

    key: str
    value: str
    why: str
    is_decided: bool = True

    @property
    def line(self) -> str:
        """The key as a line of TOML."""
        line = f"{self.key} = {self.value}"
        return with_reason(line, self.why) if self.is_decided else commented_out(line, self.why)


@dataclass(frozen=True)
class Findings:
    """Settings, sentences that only explain, and sentences on what a person has to decide."""

    settings: tuple[Setting, ...] = ()
    remarks: tuple[str, ...] = ()
    undecided: tuple[str, ...] = ()

    def __add__(self, other: Findings) -> Findings:
        return Findings(self.settings + other.settings, self.remarks + other.remarks, self.undecided + other.undecided)
