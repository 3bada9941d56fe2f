"""The second invented room: one play, written down twice, in the program's own columns and in the room's own."""
