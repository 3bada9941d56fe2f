"""For each check in SQL: planted tables of which it finds the rows named, and tables in which it finds nothing.

Rooms, machines and times are invented. What is found is written as the start of "file line what".
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Case:
    """``broken`` replaces tables of ``sound``, in which nothing is found; in ``broken``, exactly ``found``."""

    sound: dict[str, str]
    broken: dict[str, str]
    found: tuple[str, ...]


SETTINGS = """
    lead_time   carry_time
    10_minutes  4_hours
"""
AS_OF = """
    as_of_at_utc
    23:00
"""
MONTH = """
    month    started_at_utc    ended_at_utc
    2031-03  2031-02-28T23:00  2031-03-31T22:00
"""
REGISTER = """
    machine
    VT1
    VT2
"""
NONE = "machine"
TWENTY_TAKES = "take_no from_machine to_machine\n"

NAMES = {
    "unknown_machines": Case(
        sound={
            "clean_switches": """
                file      line  channel  action  from_machine  to_machine
                s.csv     2     One      take    VT1           VT2
                s.csv     3     One      take    VT2           standby
                s.csv     4     One      take    standby       other
                s.csv     5     One      start   -             VT3
                s.csv     6     One      take    -             VT4
            """,
            "clean_machines": REGISTER,
            "clean_bookings": "machine\nVT3",
            "core_heard_spans": "machine\nVT4",
        },
        # line 2 names VT9 twice, from and to, and is one naming; a start's from_machine says nothing
        broken={
            "clean_switches": """
                file      line  channel  action  from_machine  to_machine
                s.csv     2     One      take    VT9           VT9
                s.csv     3     One      start   VT9           VT2
                s.csv     4     One      start   VT1           VT8
            """,
        },
        found=('s.csv 2 a take on One names "VT9"', 's.csv 4 a start on One names "VT8"'),
    ),
    "selector_names": Case(
        # 20 takes, 10 of them strange: not more than half
        sound={
            "core_takes": TWENTY_TAKES + "".join(f"{n} VT1 {'VT2' if n % 2 else 'A9'}\n" for n in range(20)),
            "clean_bookings": REGISTER,
            "core_heard_spans": NONE,
        },
        # 11 of 20
        broken={"core_takes": TWENTY_TAKES + "".join(f"{n} - {'VT2' if n > 10 else 'A9'}\n" for n in range(20))},
        found=("None None 11 of 20 takes",),
    ),
    "log_names": Case(
        sound={
            "core_heard_spans": "machine lines_count\nVT1 9\nVT1 11",
            "clean_bookings": "machine role\n" + "VT1 air\n" + "VT2 protect\n" * 19,
        },
        broken={"clean_bookings": "machine role\n" + "T1 air\n" + "T2 protect\n" * 19 + "VT1 dub\n"},
        found=('None None no machine is both logged and booked: the logs name "VT1", the bookings "T1"',),
    ),
    "unregistered_machines": Case(
        sound={
            "clean_machines": REGISTER,
            "clean_bookings": "machine\nVT1",
            "core_heard_spans": "machine\nVT2",
        },
        broken={"core_heard_spans": "machine\nVT3\nVT3"},
        found=('None None "VT3" is booked or logged',),
    ),
    "unlabelled_reels": Case(
        sound={
            "clean_bookings": """
                file   line  booking  reel
                b.csv  2     B1       R1
                b.csv  3     B2       -
            """,
            "clean_reels": "reel\nR1",
        },
        broken={"clean_reels": "reel\nR7"},
        found=('b.csv 2 booking "B1" is of reel "R1"',),
    ),
    "ticket_machines": Case(
        sound={
            "clean_tickets": """
                file   line  ticket  machine
                t.csv  2     F1      VT1
                t.csv  3     F2      VT3
                t.csv  4     F3      VT4
            """,
            "clean_machines": REGISTER,
            "clean_bookings": "machine\nVT3",
            "core_heard_spans": "machine\nVT4",
        },
        broken={
            "clean_tickets": """
                file   line  ticket  machine
                t.csv  2     F1      VT9
                t.csv  3     F2      -
            """,
        },
        found=('t.csv 2 ticket "F1" is on "VT9"', 't.csv 3 ticket "F2" is on no machine'),
    ),
    "rulings_that_fit_nothing": Case(
        sound={"measure_rulings": "file line ruling is_fitting why_not\nr.csv 2 R1 true -"},
        broken={
            "measure_rulings": """
                file   line  ruling  is_fitting  why_not
                r.csv  2     R1      true        -
                r.csv  4     R2      false       it_names_no_channel
            """,
        },
        found=('r.csv 4 ruling "R2": it names no channel',),
    ),
}

BOOKING_COLUMNS = "file line booking transmission channel machine role started_at_utc ended_at_utc\n"
BOOKINGS = {
    "machine_booked_twice": Case(
        # touching is not overlapping; air and record of one transmission are two heads of one machine's use
        sound={
            "clean_bookings": BOOKING_COLUMNS
            + """
                b.csv 2 B1 X1 One VT1 air     20:00 21:00
                b.csv 3 B2 X2 One VT1 air     21:00 22:00
                b.csv 4 B3 X1 One VT2 protect 20:00 22:00
                b.csv 5 B4 X1 One VT1 record  20:00 21:00
            """,
        },
        broken={
            "clean_bookings": BOOKING_COLUMNS
            + """
                b.csv 2 B1 X1 One VT1 air         20:00            2031-03-03T02:00
                b.csv 3 B2 X2 Two VT1 protect     2031-03-02T23:00 2031-03-03T03:00
                b.csv 4 B3 -  -   VT1 maintenance 2031-03-03T02:30 2031-03-03T04:00
                b.csv 5 B4 X5 One VT2 air         20:00            21:00
                b.csv 6 B5 X5 One VT2 protect     20:00            21:00
            """,
        },
        found=(
            'b.csv 3 VT1 is booked twice at once: "B1" (air) and "B2" (protect)',
            'b.csv 4 VT1 is booked twice at once: "B2" (protect) and "B3" (maintenance)',
            'b.csv 6 VT2 is booked twice at once: "B4" (air) and "B5" (protect)',
        ),
    ),
    "air_booked_twice": Case(
        # ten minutes, the lead, are allowed to a reel that follows another
        sound={
            "clean_bookings": BOOKING_COLUMNS
            + """
                b.csv 2 B1 X1 One VT1 air     20:00 20:30
                b.csv 3 B2 X1 One VT2 air     20:20 21:00
                b.csv 4 B3 X1 One VT3 protect 20:00 21:00
                b.csv 5 B4 X1 Two VT4 air     20:00 21:00
            """,
            "core_settings": SETTINGS,
        },
        broken={
            "clean_bookings": BOOKING_COLUMNS
            + """
                b.csv 2 B1 X1 One VT1 air     20:00 20:30
                b.csv 3 B2 X1 One VT2 air     20:19:59 21:00
            """,
        },
        found=('b.csv 3 X1 on One has two machines booked for air, "VT1" and "VT2", from 2031-03-01 20:19:59 to',),
    ),
    "unheard_transmissions": Case(
        # X1 has a take in the lead before, X2 a roll of its protect within the carry, X3 is not yet played
        sound={
            "core_windows": """
                channel transmission started_at_utc ended_at_utc
                One     X1           20:00          21:00
                Two     X2           20:00          21:00
                Two     X3           23:30          23:50
            """,
            "core_takes": "channel at_utc\nOne 19:50",
            "core_members": """
                channel transmission machine started_at_utc ended_at_utc
                One     X1           VT1     19:50          21:00
                Two     X2           VT2     19:50          21:00
                Two     X2           VT3     19:50          21:00
                Two     X3           VT2     23:20          23:50
            """,
            "core_words": "machine event at_utc\nVT3 roll 16:00",
            "core_as_of": AS_OF,
            "core_settings": SETTINGS,
            "clean_bookings": BOOKING_COLUMNS
            + """
                b.csv 2 B1 X1 One VT1 air     20:00 21:00
                b.csv 3 B2 X2 Two VT2 air     20:00 21:00
                b.csv 4 B3 X2 Two VT3 protect 20:00 21:00
            """,
        },
        # a second too early for the one, after the window for the other
        broken={
            "core_takes": "channel at_utc\nOne 19:49:59\nOne 21:00:01",
            "core_words": "machine event at_utc\nVT3 roll 15:59:59\nVT1 lock 20:01",
        },
        found=("b.csv 2 X1 on One at 2031-03-01 20:00:00 UTC: no take and no roll", "b.csv 3 X2 on Two at"),
    ),
    "silent_months": Case(
        sound={
            "core_events": "at_utc\n2031-02-28T23:00\n2031-03-31T22:30",
            "clean_switches": "at_utc\n2031-03-31T21:59",
            "clean_bookings": BOOKING_COLUMNS + "b.csv 2 B1 X1 One VT1 air 20:00 21:00",
            "site_months": MONTH,
            "core_as_of": AS_OF,
        },
        # the first row is before the month and the last after it, in the hours that hold its ends
        broken={"clean_switches": "at_utc\n2031-02-28T22:59\n2031-03-31T22:00"},
        found=("None None 2031-03 has air booked and no row of switches",),
    ),
    "silent_days": Case(
        sound={
            "core_events": "machine at_utc\nVT1 05:30\nVT2 2031-03-02T04:59",
            "clean_bookings": BOOKING_COLUMNS
            + """
                b.csv 2 B1 X1 One VT1 air         20:00 21:00
                b.csv 3 B2 X1 One VT2 protect     20:00 21:00
                b.csv 4 B3 -  -   VT3 maintenance 20:00 21:00
                b.csv 5 B4 X2 One VT3 air         23:30 23:50
            """,
            "site_days": "day started_at_utc ended_at_utc\n2031-03-01 05:00 2031-03-02T05:00",
            "core_as_of": AS_OF,
        },
        # VT1 logs in the hour in which the day begins, but before it; VT2 when the next has begun
        broken={
            "core_events": "machine at_utc\nVT1 04:59\nVT2 2031-03-02T05:00",
            "site_days": "day started_at_utc ended_at_utc\n2031-03-01 05:00 2031-03-02T05:00",
        },
        found=("b.csv 2 VT1 logged nothing on 2031-03-01", "b.csv 3 VT2 logged nothing on 2031-03-01"),
    ),
}

FILES = "file feed read_count\n"
ASIDE_COLUMNS = "feed reason\n"
SET_ASIDE = {
    # 20 of 400 is 5 % and no more; rows that were superseded could be read
    "feeds_set_aside": Case(
        sound={
            "core_files": FILES
            + "e.csv events 300\nf.csv events 100\ns.csv switches 20\nt.csv tickets 20\nb.csv bookings 5",
            "core_set_aside": ASIDE_COLUMNS
            + "bookings time\n" * 4  # four of five are many, but not twenty and not all
            + "events time\n" * 20
            + "events superseded:_a_later_row\n" * 20
            + "events of_no_interest:_so_said\n" * 20
            + "events header:_again\n" * 20
            + "bookings cancelled:_so_said\n" * 5
            + "switches time\n" * 19
            + "tickets time\n" * 20,
        },
        broken={
            "core_set_aside": ASIDE_COLUMNS + "events time\n" * 21 + "switches time\n" * 20 + "bookings time\n" * 5
        },
        found=(
            "None None 20 of 20 rows of switches",
            "None None 21 of 400 rows of events",
            "None None 5 of 5 rows of bookings",
        ),
    ),
    "empty_files": Case(
        sound={"core_files": "file feed read_count size_bytes\na.csv events 1 80"},
        broken={"core_files": "file feed read_count size_bytes\na.csv events 0 0\nb.ics bookings 0 31"},
        found=("a.csv None a.csv holds no row, it is empty", "b.ics None b.ics holds no row"),
    ),
    "papers_set_aside": Case(
        sound={
            "core_files": FILES + "t.csv tickets 400\ns.csv switches 20",
            "core_set_aside": ASIDE_COLUMNS + "tickets time\n" * 20 + "switches time\n" * 20,
        },
        broken={"core_set_aside": ASIDE_COLUMNS + "tickets time\n" * 21},
        found=("None None 21 of 400 rows of tickets",),
    ),
}
