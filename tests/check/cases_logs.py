"""Cases, as in cases.py, of the checks on logs, takes and clocks, and on what the models made of them."""

from __future__ import annotations

from tests.check.cases import SETTINGS, Case

PIECES = """
    channel transmission started_at_utc ended_at_utc
    One     X1           20:00          21:00
    One     X2           21:05          22:00
"""
LAST_TAKE_COLUMNS = "channel piece_started_at_utc take_no to_machine is_fresh is_fitting\n"
TAKE_COLUMNS = "file line take_no channel at_utc from_machine to_machine\n"
CLOCK_COLUMNS = "machine segment_no offset_s within_s pairs_count is_corrected\n"
FINDING_COLUMNS = "feed file line kind what\n"
EVENT_COLUMNS = "file line event_no machine at_utc event value\n"

TAKES = {
    "takes_not_from_feed": Case(
        # lines 3 and 4 follow each other; line 5 is outside every piece; before line 6 the selector is on VT1, which is
        # not of X2, so that the machine it names is believed
        sound={
            "core_takes": TAKE_COLUMNS
            + """
                s.csv 2 1 One 12:00 VT9     VT2
                s.csv 3 2 One 20:10 VT1     standby
                s.csv 4 3 One 20:11 standby VT1
                s.csv 5 4 One 21:02 VT7     VT1
                s.csv 6 5 One 21:10 VT3     VT2
                s.csv 7 6 One 21:20 -       VT3
            """,
            "core_pieces": PIECES,
            "core_last_takes": LAST_TAKE_COLUMNS
            + """
                One 20:00 1 VT2 false true
                One 21:05 4 VT1 true  false
            """,
        },
        # line 3: the last take is five minutes old and left the selector on VT2, which is of X1; line 4: inside;
        # line 5: left on standby in X1, which ended five minutes before X2
        broken={
            "core_takes": TAKE_COLUMNS
            + """
                s.csv 2 1 One 19:55 VT9     VT2
                s.csv 3 2 One 20:10 VT1     VT2
                s.csv 4 3 One 20:40 VT1     standby
                s.csv 5 4 One 21:10 VT3     VT2
            """,
            "core_last_takes": LAST_TAKE_COLUMNS
            + """
                One 20:00 1 VT2     true true
                One 21:05 3 standby true true
            """,
        },
        found=(
            's.csv 3 a take on One is from "VT1", while the selector was on "VT2"',
            's.csv 4 a take on One is from "VT1", while the selector was on "VT2"',
            's.csv 5 a take on One is from "VT3", while the selector was on "standby"',
        ),
    ),
    "unknown_air": Case(
        sound={
            "core_air_spans": """
                channel transmission feed state   started_at_utc ended_at_utc
                One     X1           VT1  covered 20:00          21:00
            """,
            "clean_bookings": """
                file  line booking channel transmission role    started_at_utc
                b.csv 2    B2      One     X1           air     20:00
                b.csv 3    B1      One     X1           air     20:30
                b.csv 4    B0      One     X1           protect 19:00
            """,
        },
        # 60 s + 30.5 s of VT1
        broken={
            "core_air_spans": """
                channel transmission feed state   started_at_utc ended_at_utc
                One     X1           VT1  unknown 20:10          20:11
                One     X1           VT1  covered 20:11          20:12
                One     X1           VT1  unknown 20:20          20:20:30.5
            """,
        },
        found=('b.csv 2 X1 on One: 90.500 s fed by "VT1" are not known, from 2031-03-01 20:10:00 UTC',),
    ),
}

EVENTS = {
    "unbooked_events": Case(
        # ten minutes before and after a booking are allowed; a clean at any time
        sound={
            "core_words": EVENT_COLUMNS
            + """
                e.csv 2 1 VT1 19:50    roll  -
                e.csv 3 2 VT1 21:09:59 stop  -
                e.csv 4 3 VT1 12:00    clean -
            """,
            "clean_bookings": "machine started_at_utc ended_at_utc\nVT1 20:00 21:00\nVT1 20:10 20:20",
            "core_settings": SETTINGS,
        },
        broken={
            "core_words": EVENT_COLUMNS
            + """
                e.csv 2 1 VT1 19:49:59 roll -
                e.csv 3 2 VT1 20:30    lock -
                e.csv 4 3 VT1 21:10    stop -
                e.csv 5 4 VT2 20:30    roll -
            """,
        },
        found=('e.csv 2 VT1 logs "roll"', 'e.csv 4 VT1 logs "stop"', 'e.csv 5 VT2 logs "roll"'),
    ),
    "rolls_without_lock": Case(
        # VT2 never logs lock; the last run of VT1 is open; one run lasts 9 s
        sound={
            "core_machine_moments": """
                event_no machine run_no at_utc   next_at_utc event is_rolling is_rolling_locked
                1        VT1     1      20:00    20:00:05    roll  true       false
                2        VT1     1      20:00:05 21:00       lock  true       true
                3        VT1     2      21:00    21:30       stop  false      false
                4        VT1     3      21:30    21:30:09    roll  true       false
                5        VT1     4      21:30:09 22:00       stop  false      false
                6        VT1     5      22:00    -           roll  true       false
                7        VT2     1      20:00    21:00       roll  true       true
            """,
            "core_words": EVENT_COLUMNS + "e.csv 2 1 VT1 20:00 roll -\ne.csv 5 4 VT1 21:30 roll -",
        },
        broken={
            "core_machine_moments": """
                event_no machine run_no at_utc   next_at_utc event is_rolling is_rolling_locked
                1        VT1     1      20:00    20:00:05    roll  true       false
                2        VT1     1      20:00:05 21:00       lock  true       true
                3        VT1     2      21:00    21:30       stop  false      false
                4        VT1     3      21:30    21:30:06    roll  true       false
                5        VT1     3      21:30:06 21:30:10    alarm true       false
                6        VT1     4      21:30:10 22:00       stop  false      false
            """,
        },
        found=("e.csv 5 VT1 rolls at 2031-03-01 21:30:00 UTC and does not log lock before 2031-03-01 21:30:10",),
    ),
    "machines_without_lock": Case(
        sound={
            "core_words": EVENT_COLUMNS
            + "e.csv 2 1 VT1 20:00 roll -\ne.csv 3 2 VT1 20:01 lock -\ne.csv 4 3 VT2 20:00 clean -"
        },
        broken={"core_words": EVENT_COLUMNS + "e.csv 2 1 VT1 20:00 roll -\ne.csv 3 2 VT2 20:01 lock -"},
        found=("None None VT1 never logs lock",),
    ),
    "far_offsets": Case(
        sound={"core_offsets": "file line machine offset_s\ne.csv 2 VT1 5\ne.csv 3 VT1 -5\ne.csv 4 VT1 -"},
        broken={"core_offsets": "file line machine offset_s\ne.csv 2 VT1 5.001\ne.csv 3 VT1 -40"},
        found=("e.csv 2 VT1 logs an offset of 5.001", "e.csv 3 VT1 logs an offset of -40"),
    ),
    "unusable_offsets": Case(
        sound={"core_offsets": "file line machine partner at_utc offset_s\ne.csv 2 VT1 VT2 20:00 0"},
        broken={
            "core_offsets": "file line machine partner at_utc offset_s\ne.csv 2 VT1 - 20:00 0\ne.csv 3 VT1 VT2 20:00 -"
        },
        found=("e.csv 2 VT1 logs an offset to no known partner", "e.csv 3 VT1 logs an offset without a value"),
    ),
    "hours_backwards": Case(
        sound={
            "core_words": EVENT_COLUMNS
            + "e.csv 2 1 VT1 20:00 hours 100\ne.csv 3 2 VT1 21:00 hours 100\ne.csv 4 3 VT1 21:10 offset 0\n"
            + "e.csv 5 4 VT1 22:00 hours -\ne.csv 6 5 VT2 20:00 hours 7",
        },
        broken={
            "core_words": EVENT_COLUMNS
            + "e.csv 2 1 VT1 20:00 hours 100\ne.csv 3 2 VT1 21:00 hours -\ne.csv 4 3 VT1 22:00 hours 99.5",
        },
        found=("e.csv 4 VT1 reads 99.5 h after 100.0 h",),
    ),
}

STAMPS = {
    "ambiguous_stamps": Case(
        sound={
            "clean_events": "file line machine stamped_at_utc is_ambiguous\ne.csv 2 VT1 20:00 false",
            "clean_switches": "file line channel at_utc is_ambiguous\ns.csv 2 One 20:00 false",
        },
        broken={
            "clean_events": "file line machine stamped_at_utc is_ambiguous\ne.csv 2 VT1 20:00 true",
            "clean_switches": "file line channel at_utc is_ambiguous\ns.csv 2 One 20:00 true",
        },
        found=("e.csv 2 the stamp of VT1", "s.csv 2 the stamp of One"),
    ),
    "far_stamps": Case(
        # 365 days before 1 March 2031 20:00 is 1 March 2030 20:00; after 21:00, 29 February 2032 (2032 is a leap year)
        sound={
            "clean_events": "file line stamped_at_utc\ne.csv 2 2030-03-01T20:00\ne.csv 3 2032-02-29T21:00",
            "clean_switches": "file line at_utc\ns.csv 2 20:00",
            "clean_tickets": "file line opened_at_utc\nt.csv 2 20:00\nt.csv 3 -",
            "clean_bookings": "started_at_utc ended_at_utc\n20:00 21:00",
        },
        broken={
            "clean_events": "file line stamped_at_utc\ne.csv 2 2030-03-01T19:59\ne.csv 3 20:00",
            "clean_switches": "file line at_utc\ns.csv 2 2032-02-29T21:01",
            "clean_tickets": "file line opened_at_utc\nt.csv 2 2013-03-01T20:00",
        },
        found=("e.csv 2 2030-03-01 19:59:00 UTC", "s.csv 2 2032-02-29 21:01:00 UTC", "t.csv 2 2013-03-01 20:00:00 UTC"),
    ),
    "tickets_backwards": Case(
        sound={
            "clean_tickets": """
                file  line ticket opened_at_utc restored_at_utc closed_at_utc
                t.csv 2    F1     20:00         20:00           -
                t.csv 3    F2     20:00         -               21:00
            """,
        },
        broken={
            "clean_tickets": """
                file  line ticket opened_at_utc restored_at_utc closed_at_utc
                t.csv 2    F1     20:00         19:59           21:00
                t.csv 3    F2     20:00         -               19:59
            """,
        },
        found=('t.csv 2 ticket "F1" is restored before', 't.csv 3 ticket "F2" is closed before'),
    ),
    "unestimated_clocks": Case(
        sound={
            "core_heard_spans": "machine\nVT1\nVT1",
            "raw_clock_segments": "machine segment_no pairs_count\nVT1 1 5\nVT2 1 1",
        },
        broken={
            "core_heard_spans": "machine\nVT1\nVT3",
            "raw_clock_segments": "machine segment_no pairs_count\nVT1 1 5\nVT1 2 4",
        },
        found=("None None VT1, clock stretch 2: 4 pairs", "None None VT3, clock stretch 1: 0 pairs"),
    ),
    "corrected_clocks": Case(
        sound={"raw_clock_segments": CLOCK_COLUMNS + "VT1 1 0.001 0.1 9 false"},
        broken={"raw_clock_segments": CLOCK_COLUMNS + "VT1 1 -2.5 0.1 9 true"},
        found=("None None VT1, clock stretch 1: 2.500 s behind the house clock, within 0.100 s by 9 pairs",),
    ),
    "sequence_gaps": Case(
        sound={"raw_findings": FINDING_COLUMNS + "events e.log 9 restart VT1_began_again"},
        broken={"raw_findings": FINDING_COLUMNS + "events e.log 7 gap VT1_numbered_41,_then_44"},
        found=("e.log 7 VT1 numbered 41, then 44",),
    ),
    "unsynchronised_senders": Case(
        sound={"raw_findings": FINDING_COLUMNS + "events e.log 9 gap VT1_numbered_41,_then_44"},
        broken={"raw_findings": FINDING_COLUMNS + "events e.log 3 unsynchronised VT1_is_not_synchronised"},
        found=("e.log 3 VT1 is not synchronised",),
    ),
    "hour_mistakes": Case(
        # 42 s is a wrong clock, and so is 3,700 s, 100 s from an hour
        sound={"raw_clock_segments": CLOCK_COLUMNS + "VT1 1 42 0.1 9 true\nVT2 1 3700 0.1 9 true\nVT3 1 - - 0 false"},
        # 3,612 s is an hour and 12 s; -1,800 s half an hour behind, by two pairs
        broken={"raw_clock_segments": CLOCK_COLUMNS + "VT1 1 3612 0.1 9 true\nVT2 1 -1800 0.1 2 false"},
        found=(
            "None None VT1, clock stretch 1: 1.0 h ahead of the house clock",
            "None None VT2, clock stretch 1: 0.5 h behind the house clock",
        ),
    ),
}

SPAN_COLUMNS = "channel piece_started_at_utc started_at_utc ended_at_utc state\n"
MODELS = {
    "air_spans_overlap": Case(
        sound={
            "core_air_spans": SPAN_COLUMNS
            + "One 20:00 20:00 20:30 lost\nOne 20:00 20:30 21:00 lost\nTwo 20:00 20:10 20:20 lost"
        },
        # the third lies inside the first, though the second ended before it
        broken={
            "core_air_spans": SPAN_COLUMNS
            + "One 20:00 20:00 21:00 lost\nOne 20:00 20:10 20:20 covered\nOne 20:00 20:50 20:55 lost"
        },
        found=(
            "None None the covered span on One from 2031-03-01 20:10",
            "None None the lost span on One from 2031-03-01 20:50",
        ),
    ),
    "pieces_accounted": Case(
        # 20 min of air, 10 min ruled no air, 20 min on another source, 10 min fed till here and then ended 5 s early;
        # what is ruled no air outside the piece (till 20:00) and within the early end is not counted
        sound={
            "core_pieces": PIECES.replace("One     X2           21:05          22:00", ""),
            "core_air_spans": SPAN_COLUMNS + "One 20:00 20:00 20:20 covered\nOne 20:00 20:50 20:59:55 exposed",
            "core_air_segments": "channel piece_started_at_utc started_at_utc ended_at_utc feed\n"
            "One 20:00 20:30 20:50 other\nOne 20:00 20:00 20:20 VT1",
            "core_early_ends": "channel piece_started_at_utc ended_early_at_utc\nOne 20:00 20:59:55",
            "core_not_air": "channel started_at_utc ended_at_utc\nOne 19:50 20:00\nOne 20:20 20:30\n"
            "One 20:59:57 21:01\nTwo 20:00 20:10",
        },
        broken={
            "core_air_spans": SPAN_COLUMNS + "One 20:00 20:00 20:20 covered\nOne 20:00 20:50 20:59:54.999999 exposed"
        },
        found=("None None X1 on One at 2031-03-01 20:00:00 UTC: 3600.000000 s of air, and 3599.999999 s in its parts",),
    ),
    "air_adds_up": Case(
        sound={
            "core_air_spans": SPAN_COLUMNS + "One 20:00 20:00 20:01 lost\nTwo 20:00 20:00 20:02 lost",
            "metric_air": "channel air_s\nOne 20\nOne 40\nTwo 120",
            "metric_transmissions": "channel air_s\nOne 60\nTwo 120",
        },
        # One: 60 s by spans, 59.999999 by months; Three has spans in no month and no transmission
        broken={
            "core_air_spans": SPAN_COLUMNS
            + "One 20:00 20:00 20:01 lost\nThree 20:00 20:00 20:01 lost\nTwo 20:00 20:00 20:02 lost",
            "metric_air": "channel air_s\nOne 59.999999\nTwo 120",
        },
        found=(
            "None None One: 60.000000 s by spans, 59.999999 s by months",
            "None None Three: 60.000000 s by spans, 0.000000 s by months",
        ),
    ),
}
