"""What a hostile hand writes into logs and tickets, and a site that holds all of it."""

from __future__ import annotations

from pathlib import Path

from tests.safety.room import BOOKINGS, EVENTS, SWITCHES, TICKETS, TOML, write_room

FORMULAS = (
    "=cmd|' /C calc'!A0",
    '=HYPERLINK("http://x.invalid";"open")',
    "+1+cmd|' /C calc'!A0",
    "-2+3+cmd|' /C calc'!A0",
    "@SUM(1+1)*cmd|' /C calc'!A0",
)
MARKUP = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(2)>',
    "'><svg/onload=alert(3)>",
    "</title></style><script>alert(4)</script>",
    "--><iframe src=javascript:alert(5)></iframe><!--",
    "{{ 7 * 191 }}{% raw %}",
    "&lt;b&gt;&#60;i&#62;",
    "<a href='javascript:alert(6)'>press</a>",
)
INJECTIONS = (
    "VT1'; drop table raw_events; --",
    'VT1"; delete from source_files; --',
    "../../../../etc/passwd",
    "..\\..\\secret",
    "/dev/stdout",
    "C:\\CON",
)
# One incident each at the same second: the names of their pages are made from the channel's.
CHANNELS = (
    "A/B",
    "A B",
    "a-b",
    "a-b 2",
    "CON",
    "..",
    ".",
    "Ö",
    "ö",
    "-",
    "../../index",
    "x" * 120,
    MARKUP[0],
    FORMULAS[0],
)
EXTREME_TIMES = ("0001-01-01T00:00:00", "9999-12-31T23:59:59", "1677-09-21T00:12:43", "2262-04-11T23:47:17")


def write_wicked(site: Path) -> Path:
    """The small room, and beside it every wicked text where a page or an export may show it; returns the folder."""
    write_room(site)
    (site / "site.toml").write_text(TOML.replace("Invented room", "Room <script>alert(0)</script>"), encoding="utf-8")
    texts = [*FORMULAS, *MARKUP]
    tickets = [
        _row(
            f"W{k}",
            "VT1",
            f"2031-03-0{3 + k % 3}T20:11:0{k % 10}",
            "",
            "",
            text,
            text,
            text,
            text,
            "1",
            "2",
            text,
            text,
        )
        for k, text in enumerate(texts)
    ]
    tickets += [_row(text, text, "2031-03-03T20:12:00", *[""] * 10) for text in texts]
    _write(site / "tickets-wicked.csv", TICKETS, tickets)
    events = [_row("2031-03-04T12:00:00", text, "clean", "", text) for text in (*texts, *INJECTIONS)]
    events += [_row("2031-03-04T12:00:01", "VT1", text, "", "") for text in texts]  # no such word: set aside
    events += [_row(text, "VT1", "clean", "", "") for text in (*texts, "\t=1+1")]  # no such time, and first in the line
    events += [row for channel, machine in _machines() for row in _incident(machine)]
    _write(site / "events" / "wicked.csv", EVENTS, events)
    _write(
        site / "switches-wicked.csv",
        SWITCHES,
        [
            _row("2031-03-10T20:10:05", "take", channel, machine, "standby", "fault", MARKUP[0])
            for channel, machine in _machines()
        ],
    )
    _write(
        site / "bookings-wicked.csv",
        BOOKINGS,
        [
            _row(
                f"W{machine}",
                f"XW{machine}",
                channel,
                MARKUP[0],
                MARKUP[1],
                MARKUP[2],
                machine,
                "air",
                "2031-03-10T20:00:00",
                "2031-03-10T20:30:00",
            )
            for channel, machine in _machines()
        ],
    )
    return site


def _machines() -> list[tuple[str, str]]:
    return [
        (channel, f"W{number}{MARKUP[1] if number % 2 else FORMULAS[0]}") for number, channel in enumerate(CHANNELS)
    ]


def _incident(machine: str) -> list[str]:
    return [
        _row("2031-03-10T19:59:20", machine, "roll", "", ""),
        _row("2031-03-10T19:59:24", machine, "lock", "", ""),
        _row("2031-03-10T20:10:00", machine, "picture_lost", "", ""),
        _row("2031-03-10T20:20:00", machine, "picture_back", "", ""),
    ]


def _row(*cells: str) -> str:
    """Cells as RFC 4180 has them, quoted where they must be and not where they need not."""
    return ",".join('"' + cell.replace('"', '""') + '"' if {'"', ","} & set(cell) else cell for cell in cells)


def _write(path: Path, header: str, rows: list[str]) -> None:
    path.write_text(header + "".join(f"{row}\n" for row in rows), encoding="utf-8")
