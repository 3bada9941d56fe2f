"""Finds lines that are a stamp and one of a few endings, which nearly all lines of a log are.

A machine that says every second that it is alive writes the same behind each stamp. Such lines are known by looking at
eight letters at once, so that what follows their stamps need be cut and typed no more than once for each ending.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from pipeline.ingest.batch import cell_name
from pipeline.ingest.times.same_layout import (
    WHOLE,
    Flags,
    Walls,
    Whole,
    digit_places,
    hours_from,
    layout_of,
    walls_like,
)

SAMPLED = 128  # lines looked at for the endings
OFTEN = 2  # times that an ending is met among them, so that it is looked for
LEAST_STEP = 100  # bytes between them, below which it costs more than it saves
PIECE_BYTES = 1 << 20
LEAST_SHARE = 0.5  # of the lines: below it the others are better cut together with them
LONGEST_ENDING = 64
WORD = 8  # letters looked at at once
HOUR = 13  # letters of a stamp up to its hour
MICRO_DIGITS = 6
NEWLINE = 10

Words = npt.NDArray[np.uint64]


@dataclass(frozen=True)
class Alike:
    """Lines that are a stamp of one layout, ``mark`` and one of ``endings``, in file order.

    ``lines`` numbers them, ``walls`` are their stamps, ``ending_at`` the place of each line's ending.
    """

    lines: Whole
    walls: Walls
    ending_at: Whole
    endings: tuple[str, ...]
    mark: str

    def rows(self, chosen: Whole) -> pl.DataFrame:
        """The ``chosen`` lines as `Batch.rows` has them."""
        return self._rows(self.lines[chosen], self.walls.texts(chosen), self.ending_at[chosen])

    def shown(self, line: int) -> pl.DataFrame:
        """A row of each ending, all under the stamp of the line at the place ``line``, numbered from 0."""
        every = np.arange(len(self.endings))
        return self._rows(every, self.walls.texts(np.full(every.size, line)), every)

    def _rows(self, lines: Whole, stamps: pl.Series, ending_at: Whole) -> pl.DataFrame:
        cells = [[cell or None for cell in ending.split(self.mark)] for ending in self.endings]
        names = [cell_name(k) for k in range(1, len(cells[0]) + 1)]
        table = pl.DataFrame(cells, schema=dict.fromkeys(names, pl.String), orient="row")
        numbered = pl.DataFrame({"line": lines}, schema={"line": pl.Int64})
        text = pl.lit(None, pl.String).alias("text")
        return numbered.with_columns(text, stamps.alias(cell_name(0))).hstack(table[ending_at])


@dataclass(frozen=True)
class _Lines:
    """Where lines start and end; ``words`` holds eight letters from each place on, the first of them lowest."""

    starts: Whole
    ends: Whole
    words: Words


@dataclass(frozen=True)
class _Piece:
    """Some lines: the stamp of each, the place of its ending or −1, and those that have none whole."""

    wall_us: Whole
    ending_at: Whole
    others: list[bytes]


@dataclass(frozen=True)
class _Shape:
    """A stamp that shows how all are written, the letter behind it, and endings, the most frequent first."""

    stamp: str
    mark: str
    endings: tuple[str, ...]


def sift(data: bytes, mark: str, width: int, first_line: int) -> tuple[Alike | None, bytes, Whole]:
    """The lines of ``data`` that are alike, and all others with their numbers; None where that does not pay.

    ``data`` are whole lines of ``width`` cells without quotes, the first of them number ``first_line``. Which line goes
    where changes nothing but the time that it takes.
    """
    shape = _shape(data, mark, width)
    pieces = [_sift_piece(piece, shape) for piece in _pieces(data)] if shape else []
    count = sum(piece.ending_at.size for piece in pieces)
    ending_at = np.concatenate([piece.ending_at for piece in pieces]) if pieces else np.full(data.count(b"\n"), -1)
    numbers = np.arange(first_line, first_line + ending_at.size)
    chosen = np.flatnonzero(ending_at >= 0)
    if shape is None or chosen.size < LEAST_SHARE * count:
        return None, data, numbers
    walls = walls_like(shape.stamp, np.concatenate([piece.wall_us for piece in pieces])[chosen])
    rest = b"".join(line for piece in pieces for line in piece.others)
    return Alike(numbers[chosen], walls, ending_at[chosen], shape.endings, mark), rest, numbers[ending_at < 0]


def _pieces(data: bytes) -> Iterator[bytes]:
    """``data`` in pieces of whole lines, so small that what is worked out of one stays near the processor."""
    at = 0
    while at < len(data):
        end = data.find(b"\n", min(at + PIECE_BYTES, len(data) - 1)) + 1
        yield data[at:end]
        at = end


def _sift_piece(data: bytes, shape: _Shape) -> _Piece:
    letters = np.frombuffer(data + bytes(LONGEST_ENDING), np.uint8)  # room for the words of the last line
    ends = np.flatnonzero(letters == NEWLINE)
    lines = _Lines(np.concatenate([[0], ends[:-1] + 1]), ends, _words(letters))
    wall_us, is_stamp = _read_stamps(lines, shape)
    ending_at = _find_endings(lines, shape, is_stamp)
    others = np.flatnonzero(ending_at < 0)
    spans = zip(lines.starts[others].tolist(), (ends[others] + 1).tolist(), strict=True)
    return _Piece(wall_us, ending_at, [data[start:end] for start, end in spans])


def _words(letters: npt.NDArray[np.uint8]) -> Words:
    return np.ndarray(letters.size - WORD + 1, "<u8", letters, strides=(1,))


def _shape(data: bytes, mark: str, width: int) -> _Shape | None:
    """What most of the lines look like, from some that lie evenly in ``data``."""
    cut = [line.partition(mark) for line in _sample(data)]
    layouts = [layout_of(stamp) for stamp, _, _ in cut]
    known = Counter(layout for layout in layouts if layout is not None)
    if not known:
        return None
    usual = known.most_common(1)[0][0]
    alike = [(stamp, ending) for layout, (stamp, _, ending) in zip(layouts, cut, strict=True) if layout == usual]
    endings = Counter(ending for _, ending in alike if _is_bare(ending, mark, width))
    often = tuple(ending for ending, times in endings.most_common() if times >= OFTEN)
    return _Shape(alike[0][0], mark, often) if often else None


def _sample(data: bytes) -> Iterator[str]:
    step = len(data) // SAMPLED
    places = range(0, len(data), max(step, 1)) if step >= LEAST_STEP else ()
    for start in sorted({data.rfind(b"\n", 0, place) + 1 for place in places}):
        yield data[start : data.find(b"\n", start)].decode("latin-1")


def _is_bare(ending: str, mark: str, width: int) -> bool:
    """Whether the ending has as many cells as it needs, none of them with white space or a letter beyond ASCII."""
    is_whole = len(ending) <= LONGEST_ENDING and ending.count(mark) == width - 2
    return is_whole and all("!" <= letter <= "~" for letter in ending)


def _read_stamps(lines: _Lines, shape: _Shape) -> tuple[Whole, Flags]:
    """The wall time of each line in microseconds since 1970, and whether the line begins with a stamp of the shape."""
    written = shape.stamp + shape.mark
    words = [lines.words[lines.starts + place] for place in range(0, len(written), WORD)]
    is_stamp = _are_written(words, written, digit_places(shape.stamp))
    hour_us, is_hour = _read_hours(words[0], words[1])
    minute, second = _pair(words[1], 6), _pair(words[2], 1)
    wall_us = hour_us + (minute * 60 + second) * 1_000_000
    digits = len(digit_places(shape.stamp)) - len(digit_places(shape.stamp[:WHOLE]))
    if digits:
        wall_us += _fractions(lines.words[lines.starts + WHOLE + 1], digits)
    return wall_us, is_stamp & is_hour & (minute < 60) & (second < 60)


def _are_written(words: Sequence[Words], written: str, digits: Collection[int]) -> Flags:
    """Whether ``words`` are the letters of ``written``, any digit at the places ``digits``."""
    are = np.ones(words[0].size, bool)
    for at, word in enumerate(words):
        letters = written[at * WORD : (at + 1) * WORD]
        is_digit = [at * WORD + place in digits for place in range(len(letters))]
        exact, free = _mask([not each for each in is_digit]), _mask(is_digit)
        number = (word ^ _repeated(ord("0"))) & free
        are &= ((number + (_repeated(0x76) & free)) | number) & _repeated(0x80) == 0  # more than 9 reaches the top bit
        are &= word & exact == _word(letters) & exact
    return are


def _read_hours(first: Words, second: Words) -> tuple[Whole, Flags]:
    """The hours that stamps lie in: neighbours mostly share theirs, so that few have to be read."""
    rest = second & _mask([True] * (HOUR - WORD))
    is_other = (first[1:] != first[:-1]) | (rest[1:] != rest[:-1])
    heads = np.concatenate([[0], np.flatnonzero(is_other) + 1])
    letters = np.stack([first[heads], rest[heads]], axis=1).view(np.uint8)
    hour_us, is_hour = hours_from(np.ascontiguousarray(letters.T[:HOUR]))
    counts = np.diff(heads, append=first.size)
    return np.repeat(hour_us, counts), np.repeat(is_hour, counts)


def _find_endings(lines: _Lines, shape: _Shape, is_stamp: Flags) -> Whole:
    """The place of each line's ending among those of the shape; −1 where it has another."""
    lengths = lines.ends - lines.starts - len(shape.stamp) - 1
    found = np.full(lengths.size, -1)
    left = np.flatnonzero(is_stamp)
    for number, ending in enumerate(shape.endings):
        chosen = left[lengths[left] == len(ending)]
        for end in range(len(ending), 0, -WORD):
            letters = ending[max(0, end - WORD) : end]
            filled = [place >= WORD - len(letters) for place in range(WORD)]
            word = lines.words[lines.ends[chosen] - (len(ending) - end) - WORD]
            wanted = _word(letters) << (8 * (WORD - len(letters)))
            chosen = chosen[word & _mask(filled) == wanted]
        found[chosen] = number
        left = left[found[left] < 0]
    return found


def _fractions(words: Words, digits: int) -> Whole:
    """Microseconds from the first ``digits`` letters of each word: pairs, then fours, then all of them added up."""
    number = ((words ^ _repeated(ord("0"))) & _mask([True] * digits)) << (8 * (WORD - MICRO_DIGITS))
    number = number * 10 + (number >> 8)
    pairs = 0x000000FF000000FF
    fours = (number & pairs) * (100 + (1_000_000 << 32)) + ((number >> 16) & pairs) * (1 + (10_000 << 32))
    return (fours >> 32).astype(np.int64)


def _pair(words: Words, place: int) -> Whole:
    tens, ones = ((words >> (8 * at)) & 15 for at in (place, place + 1))
    return (tens * 10 + ones).astype(np.int64)


def _word(letters: str) -> int:
    return int.from_bytes(letters.encode("ascii"), "little")


def _mask(chosen: Sequence[bool]) -> int:
    return int.from_bytes(bytes(255 * each for each in chosen), "little")


def _repeated(letter: int) -> int:
    return int.from_bytes(bytes([letter] * WORD), "little")
