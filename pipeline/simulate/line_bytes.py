"""Log lines as bytes. `alive` lines, nearly all of a large room, are of one length: their digits come from tables."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import numpy as np
import numpy.typing as npt
import polars as pl

from pipeline.simulate.draws import Ints, Unsigned
from pipeline.simulate.parameters import DAY_S, SECOND

Quarters = npt.NDArray[np.uint32]
STAMP = "%Y-%m-%dT%H:%M:%S%.6fZ"
STAMP_LENGTH = 27
THOUSAND = 1000
BLOCK = 32_768  # lines made at once: small enough for the processor's nearer memory


@cache
def _seconds() -> Unsigned:
    """ "00:00:00" and all further seconds of a day, eight bytes each."""
    texts = [f"{second // 3600:02}:{second // 60 % 60:02}:{second % 60:02}" for second in range(DAY_S)]
    return np.array(texts, dtype="S8").view(np.uint64)


@cache
def _thousandths(form: str) -> Quarters:
    """0 to 999 with what stands before and after, four bytes each."""
    return np.array([form.format(number) for number in range(THOUSAND)], dtype="S4").view(np.uint32)


def same_lines(at: Ints, rest: bytes) -> memoryview:
    """A stamp (UTC, microseconds, Z) and then ``rest``, for every one of some ascending instants, line after line."""
    if not len(at):
        return memoryview(b"")
    fields = [("day", "S11"), ("second", "u8"), ("milli", "u4"), ("micro", "u4"), ("rest", f"S{len(rest)}")]
    lines = np.empty(len(at), fields)
    whole, micro = np.divmod(at, SECOND)
    day, second = np.divmod(whole, DAY_S)
    for number in range(int(day[0]), int(day[-1]) + 1):
        first, last = np.searchsorted(day, [number, number + 1])
        lines["day"][first:last] = f"{np.datetime64(number, 'D')}T".encode()
    lines["second"] = _seconds()[second]
    milli, micro = np.divmod(micro, THOUSAND)
    lines["milli"], lines["micro"] = _thousandths(".{:03}")[milli], _thousandths("{:03}Z")[micro]
    lines["rest"] = rest
    return lines.view(np.uint8).data


def line_texts(machine: str, error_us: int) -> pl.Expr:
    """Lines of any event as text, from columns at, event, value, detail; ``at`` moved by the machine's clock error."""
    stamp = (pl.col("at") + error_us).cast(pl.Datetime("us")).dt.to_string(STAMP)
    return pl.concat_str(stamp, pl.lit(machine), "event", "value", "detail", separator=",") + "\n"


def woven(at: Ints, rest: bytes, places: Ints, texts: list[str]) -> Iterator[bytes]:
    """The lines of ``same_lines`` with ``texts`` woven in, block after block.

    Each text stands before the line whose number its place is; places ascend, texts of one place keep their order.
    """
    if not len(at):
        yield "".join(texts).encode()
    for first in range(0, len(at), BLOCK):
        last = min(first + BLOCK, len(at))
        low, high = np.searchsorted(places, [first, last])
        high = len(texts) if last == len(at) else high
        same = same_lines(at[first:last], rest)
        yield _one_block(same, len(rest) + STAMP_LENGTH, places[low:high] - first, texts[low:high])


def _one_block(same: memoryview, length: int, places: Ints, texts: list[str]) -> bytes:
    pieces: list[bytes | memoryview] = []
    done = 0
    for place, text in zip(places.tolist(), texts, strict=True):
        if place > done:
            pieces.append(same[done * length : place * length])
            done = place
        pieces.append(text.encode())
    pieces.append(same[done * length :])
    return b"".join(pieces)
