"""The rows that do not belong: unreadable ones and repeated ones, put between the true rows of a file."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass
class Sheet:
    """A text file in the making: its header, its rows as bytes, and how many of them are not kept."""

    path: str
    feed: str
    header: bytes
    rows: list[bytes] = field(default_factory=list)
    repeats: int = 0
    set_aside: int = 0
    blank: int = 0  # empty lines, which are no rows

    @property
    def read(self) -> int:
        """Rows in the file."""
        return len(self.rows) - self.blank

    @property
    def kept(self) -> int:
        """Rows that end up in the tables."""
        return self.read - self.repeats - self.set_aside


# path: (where, as a share of the file; the row; what is wrong with it)
UNREADABLE: dict[str, tuple[tuple[float, bytes, str], ...]] = {
    "events/VT1_2031-02.csv": (
        (0.31, b"31/02/2031 10:00,VT1,roll,,", "no such day, and no ISO 8601"),
        (0.32, b"2031-02-31T10:00:00.000Z,VT1,stop,,", "no such day"),
        (0.58, b"2031-02-17T09:12:44.120Z,VT1,rol,,", "word cut short"),
    ),
    "events/VT2_2031-02b.csv": (
        (0.20, b"2031-02-19T08:11:02.500,VT2", "cells missing"),
        (0.44, b"2031-02-22T12:00:00,,alarm,,hum", "no machine"),
        (0.71, b"2031-02-25T07:30:00,VT2,alarm,,k\xe4rvare", "bytes are not UTF-8"),
    ),
    "events/VT2_2031-03b.csv": ((0.93, b"2031-03-30T02:30:00,VT2,alarm,,hum,,", "a local time that does not exist"),),
    "events/VT4_2031-02.csv": (
        (0.40, b"2031-02-13T16:20:11.040,VT4,offset,n/a,", "offset is no number"),
        (0.80, b",,,,", "commas only"),
        (0.81, b"2031-02-24T10:00:00,VT4,alarm,,hum,,,too,many", "more cells than the header"),
    ),
    "events/VT6_2031-04.csv": (
        (0.25, b",VT6,lock,,", "no time"),
        (0.50, b"2031-04-15T10:00:00.000Z,VT6,offset,nan,", "nan is no number"),
        (0.75, b"2031-04-22T10:00:00.000Z,VT6,Lock,,", "words are in small letters"),
    ),
    "events/VT3_2031-03.jsonl": (
        (0.50, b'{"at": "2031-03-16T11:00:00.000+01:00", "machine": "VT3", "eve', "line cut short"),
        (0.60, b'{"at": "2031-03-18T11:00:00.000+01:00", "machine": "VT3"}', "no event"),
    ),
    "switches.csv": (
        (0.10, b"2031-02-09T10:00:00.000Z,tkae,One,VT1,VT2,,control,desk 1", "action unknown"),
        (0.45, b"2031-03-12T10:00:00.000Z,take,Two,VT5,,fault,control,desk 2", "nowhere to"),
        (0.70, b"2031-04-05T25:61:00.000Z,take,One,VT1,VT2,,control,desk 1", "no such time"),
        (0.85, b"2031-04-16T10:00:00.000Z,take,One,VT1,VT2,whim,control,desk 1", "reason unknown"),
    ),
    "tickets.csv": (
        (0.35, b"F9001,VT3,abt 9,,,picture soft,,,,,,,eng b", "opened is no time"),
        (0.60, b",VT5,2031-03-20T10:00,,,no number on this one,,,,,,,eng a", "no ticket number"),
    ),
    "bookings.csv": (
        (0.22, b"B9001,TX9001,One,Moss,part 1,,VT1,air,2031-02-20T11:40,2031-02-20T11:10", "ends before it starts"),
        (0.52, b"B9002,TX9002,Two,Moss,part 2,,VT5,protetc,2031-03-18T11:10,2031-03-18T11:40", "role unknown"),
        (0.53, b"B9003,TX9003,Two,Moss,part 2,,,air,2031-03-19T11:10,2031-03-19T11:40", "no machine"),
    ),
    "reels.csv": ((0.5, b"K9901-1A,Moss,part 9,VT2,crew a,sometime in May", "recorded_at is no time"),),
}
# Rows that are kept, written by hand because of their form.
BY_HAND: dict[str, tuple[tuple[float, bytes, str], ...]] = {
    "bookings.csv": (
        (0.15, b"B9101,,,,,,VT2,maintenance,2031-02-14T23:00,2031-02-14T24:00", "ends at 24:00, the next midnight"),
    ),
    "tickets.csv": (
        (
            0.20,
            b'F9101,VT8,2031-03-08T03:00,,2031-03-08T04:00,"door bent,\nwill not shut",,"said ""later""",,,,,night',
            "a line break, a comma and quotes inside cells",
        ),
    ),
}
# Row numbers, as shares of the file, of rows that come twice.
TWICE = {
    "events/VT1_2031-03.csv": (0.4, 0.41),
    "events/VT4_2031-04.csv": (0.5,),
    "events/VT3_2031-04.csv": (0.2,),
    "switches.csv": (0.05, 0.33, 0.66),
    "tickets.csv": (0.5,),
    "bookings.csv": (0.4, 0.9),
    "reels.csv": (0.1,),
}
BLANK = {"events/VT4_2031-02.csv": (0.3,), "switches.csv": (0.5,)}


def make_mess(sheet: Sheet) -> None:
    """Put into a sheet the rows that do not belong there, and count them."""
    rows = len(sheet.rows)
    inserts = [(share, row, "set aside") for share, row, _ in UNREADABLE.get(sheet.path, ())]
    inserts += [(share, row, "kept") for share, row, _ in BY_HAND.get(sheet.path, ())]
    inserts += [(share, sheet.rows[int(share * rows)], "repeat") for share in TWICE.get(sheet.path, ())]
    inserts += [(share, b"", "blank") for share in BLANK.get(sheet.path, ())]
    for share, row, kind in sorted(inserts, reverse=True):
        sheet.rows.insert(int(share * rows) + 1, row)
        sheet.repeats += kind == "repeat"
        sheet.set_aside += kind == "set aside"
        sheet.blank += kind == "blank"
