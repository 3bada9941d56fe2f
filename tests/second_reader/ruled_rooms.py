"""Generated rooms in which a person ruled some stretches of a channel to be no air, some of them overlapping."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from hypothesis import strategies as st

from tests.second_reader.rooms import Draw, nasty_rooms
from tests.second_reader.sites import Room
from tests.second_reader.working_rooms import working_rooms


def _stamps(room: Room) -> list[datetime]:
    """Instants at which something happens or is booked to: the edges at which rules differ most."""
    booked = [row[name] for row in room.bookings for name in ("starts", "ends") if row.get("channel")]
    return sorted({*(row["at"] for row in (*room.events, *room.switches)), *booked})


@st.composite
def ruled_rooms(draw: Draw) -> Room:
    """Draw a room and one to four stretches, each from such an instant, or half a second beside it, to another."""
    room: Room = draw(working_rooms() | nasty_rooms())
    stamps, channels = _stamps(room), sorted({row["channel"] for row in room.bookings if row.get("channel")})
    beside = st.sampled_from([0, 0, 0, -0.5, 0.5])
    rulings = []
    for number in range(draw(st.integers(1, 4))):
        at = draw(st.sampled_from(stamps)) + timedelta(seconds=draw(beside))
        lasting = draw(st.sampled_from([0.5, 1, 2, 5, 12, 40]))
        ends = [stamp for stamp in stamps if stamp > at]
        until = draw(st.sampled_from(ends)) if ends and draw(st.booleans()) else at + timedelta(seconds=lasting)
        rulings.append(
            {
                "ruling": f"R{number}",
                "rules": "not air",
                "channel": draw(st.sampled_from(channels)),
                "at": at,
                "until": until,
                "why": "invented",
            }
        )
    return replace(room, rulings=tuple(rulings))
