"""Inks, papers, fills and type sizes of the pages and their charts, in one place: ink on paper, hatches before colour.

The style sheet states the same as custom properties, and a test holds the two together. Every ink is dark enough to be
read on every paper (WCAG 2.2, contrast at least 4.5 to 1 for text and 3 to 1 for marks), in grey as in colour, and the
fills are told apart by their pattern alone, so that a page survives a copier and any kind of colour blindness.
"""

from __future__ import annotations

from dataclasses import dataclass

INK = "#1d1c1a"  # text, lines, edges
FAINT = "#6b665d"  # notes; lines of second rank in charts
LINK = "#23405a"
RUST = "#7b2d13"  # lost air: the one strong colour, and the darkest fill in grey
GREY = "#8d877c"  # bars that stand for no state
PALE = "#dcd8cd"  # covered air: nothing to see
RULE = "#b9b3a7"  # the frame of the title block
HAIR = "#e1ddd3"  # between the rows of a table
GRID = "#dedad2"  # behind charts
BAND = "#ece9e1"  # within tolerance
TINT = "#f4f2ec"  # a row that is pointed at
PAPER = "#ffffff"

CHART_TYPE_PX = 10.5  # labels of charts; the library lays them out at CHART_ROOM_PX, so that none runs out of its room
CHART_ROOM_PX = 12
CHART_PX_PER_REM = 14.5  # charts grow with the type of the page, their labels a tenth larger than drawn
STRIP_TYPE_PX = 11
STRIP_NAME_PX = 12

# Name of a custom property of the style sheet → its value.
PROPERTIES = {
    "ink": INK,
    "faint": FAINT,
    "link": LINK,
    "rust": RUST,
    "rule": RULE,
    "hair": HAIR,
    "grid": GRID,
    "band": BAND,
    "tint": TINT,
    "paper": PAPER,
    "chart-type": f"{CHART_TYPE_PX}px",
    "strip-type": f"{STRIP_TYPE_PX}px",
    "strip-name": f"{STRIP_NAME_PX}px",
}


@dataclass(frozen=True)
class Hatch:
    """A fill: a square tile of ``size`` SVG units, its ground, and what is drawn on it (SVG); turned by ``turn``°."""

    size: float
    ground: str
    drawn: str = ""
    turn: int = 0


# The five states of air time first; then bars of no state, and booked maintenance.
HATCHES = {
    "covered": Hatch(6, PALE),
    "unproved": Hatch(5, PAPER, f'<circle cx="1.5" cy="1.5" r=".9" fill="{INK}"/>'),
    "exposed": Hatch(5, PAPER, f'<path d="M0 0H1.6V5H0z" fill="{INK}"/>', 45),
    "lost": Hatch(6, RUST),
    "not-known": Hatch(7, PAPER, f'<path d="M0 0L7 7M7 0L0 7" stroke="{FAINT}" stroke-width=".9"/>'),
    "plain": Hatch(6, GREY),
    "maintenance": Hatch(6, PAPER, f'<path d="M0 3H6" stroke="{INK}"/>'),
}
STATES = ("covered", "unproved", "exposed", "lost", "not-known")
