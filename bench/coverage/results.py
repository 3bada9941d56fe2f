"""What all sections saw, as one JSON file and as the table in docs/transports/coverage.md; the two always agree."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from bench.coverage.claims import Claim

ROOT = Path(__file__).parents[2]
RESULTS = ROOT / "bench" / "coverage" / "results.json"
PAGE = ROOT / "docs" / "transports" / "coverage.md"
BEGIN, END = "<!-- written by python -m bench.coverage: begin -->", "<!-- written by python -m bench.coverage: end -->"

Results = dict[str, list[dict[str, Any]]]


def round_claims(claims: Sequence[Claim]) -> list[dict[str, Any]]:
    """Claims as JSON values, shares to four decimals."""
    rows = [asdict(claim) for claim in claims]
    return [row | {key: round(row[key], 4) for key in ("share", "low", "high")} for row in rows]


def read_results() -> Results:
    """The results that stand; none where nothing was written yet."""
    if not RESULTS.exists():
        return {}
    sections: Results = json.loads(RESULTS.read_text(encoding="utf-8"))["sections"]
    return sections


def write_results(sections: Results, rooms: int, seed: int) -> None:
    """Write the JSON file and the page's table anew. Same sections, same bytes."""
    document = {"rooms": rooms, "sections": sections, "seed": seed}
    RESULTS.write_text(json.dumps(document, indent=1, sort_keys=True, ensure_ascii=False) + "\n", encoding="utf-8")
    page = PAGE.read_text(encoding="utf-8")
    before, after = page.partition(BEGIN)[0], page.partition(END)[2]
    PAGE.write_text(f"{before}{BEGIN}\n{format_table(sections)}\n{END}{after}", encoding="utf-8")


def read_table() -> str:
    """The table as it stands on the page, between its two marks."""
    return PAGE.read_text(encoding="utf-8").partition(f"{BEGIN}\n")[2].partition(f"\n{END}")[0]


def format_table(sections: Mapping[str, Sequence[Mapping[str, Any]]]) -> str:
    """One Markdown row a claim, section by section."""
    head = ["| section | claim | rooms | seen | three simulation errors | expected | holds |", "|" + " --- |" * 7]
    return "\n".join(head + [_format_row(name, row) for name, rows in sections.items() for row in rows])


def _format_row(section: str, row: Mapping[str, Any]) -> str:
    spread = f"{row['low']:.4f} to {row['high']:.4f}"
    cells = [section, row["what"], f"{row['rooms']:,}", f"{row['share']:.4f}", spread, row["expected"]]
    return "| " + " | ".join([*cells, "yes" if row["holds"] else "**no**"]) + " |"
