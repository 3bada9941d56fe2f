"""Text of any encoding as UTF-8, against Python's codecs and the mapping tables they follow."""

from __future__ import annotations

import codecs
import encodings.aliases
import io
import tracemalloc

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pipeline.ingest.text import byte_stream
from pipeline.ingest.text.encodings import decoded, is_encoding, is_utf8, not_text, recognise_encoding
from pipeline.ingest.text.lines import read_blocks

CODECS = sorted(name for name in set(encodings.aliases.aliases.values()) if is_encoding(name))
TEXT = "Maschine;Ereignis\r\nVT1;Bandrißstörung\n\n„äöü“;€\n"


def _lines(data: bytes, encoding: str) -> tuple[list[str], list[int]]:
    lines: list[str] = []
    damaged: list[int] = []
    for block in read_blocks(decoded(io.BytesIO(data), encoding)):
        damaged += [len(lines) + position for position in block.damaged]
        lines += block.lines.to_list()
    return lines, sorted(damaged)


@pytest.mark.parametrize(
    "name", ["utf-8", "UTF-8", "utf-16", "utf-16-le", "windows-1252", "latin-1", "mixed", "shift_jis", "cp437", "cp500"]
)
def test_encodings_that_can_be_named(name: str) -> None:
    assert is_encoding(name)


@pytest.mark.parametrize(
    "name",
    ["", "nosuch", "hex", "rot13", "zip", "idna", "punycode", "undefined", "utf-7", "a\x00b", "\ud800", "é", "UTF 99"],
)
def test_names_of_no_text_codec_are_refused(name: str) -> None:
    assert not is_encoding(name)


def test_names_of_utf_8() -> None:
    assert [is_utf8(name) for name in ("utf-8", "UTF8", "utf_8", "", "mixed", "latin-1")] == [True] * 3 + [False] * 3


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "windows-1252"]
)
def test_a_text_is_the_same_in_every_encoding(encoding: str) -> None:
    lines = ["Maschine;Ereignis", "VT1;Bandrißstörung", "", "„äöü“;€"]
    assert _lines(TEXT.encode(encoding), encoding) == (lines, [])
    # Each of these is told by its mark or its NUL bytes, or is the one that the mixed reading falls back on.
    assert _lines(TEXT.encode(encoding), "") == (lines, [])


@pytest.mark.parametrize(
    ("head", "encoding"),
    [
        # Byte order marks: The Unicode Standard, section 23.8, table 23-3 as remembered.
        (b"\xef\xbb\xbfat", "utf-8"),
        (b"\xff\xfea\x00", "utf-16"),
        (b"\xfe\xff\x00a", "utf-16"),
        (b"\xff\xfe\x00\x00a\x00\x00\x00", "utf-32"),
        (b"\x00\x00\xfe\xff\x00\x00\x00a", "utf-32"),
        (b"a\x00t\x00,\x00", "utf-16-le"),
        (b"\x00a\x00t\x00,", "utf-16-be"),
        ("Маш;2031-03-01 20:00;\n".encode("utf-16-le"), "utf-16-le"),
        (b"at,machine\n", "mixed"),
        (b"a\x00,machine\n", "mixed"),
        (b"\x00\x00\x00\x00", "mixed"),
        (b"", "mixed"),
        (b"x", "mixed"),
    ],
)
def test_recognised(head: bytes, encoding: str) -> None:
    assert recognise_encoding(head) == encoding


def test_utf_16_by_name_needs_no_mark() -> None:
    # Without a mark the byte order is seen from the NUL bytes; little-endian, as Windows writes it, if there are none.
    assert [_lines("a,ж\nb".encode(name), "utf-16") for name in ("utf-16-le", "utf-16-be")] == [(["a,ж", "b"], [])] * 2
    assert _lines("жж\nж".encode("utf-16-le"), "utf-16") == (["жж", "ж"], [])
    assert _lines("a\nb".encode("utf-32-le"), "utf-32") == (["a", "b"], [])


def test_mixed_is_decided_line_by_line() -> None:
    # In Windows-1252 0xE9 is é, 0x80 the euro sign and C3 A9 would be two letters; as UTF-8 C3 A9 is é.
    data = b"caf\xe9\r\ncaf\xc3\xa9\r\x80 5\nplain\n\xc3\xa9\xe9\n"
    assert _lines(data, "mixed") == (["café", "café", "€ 5", "plain", "Ã©é"], [])


def test_bytes_that_windows_1252_leaves_open_are_shown_on_a_damaged_line() -> None:
    # 81, 8D, 8F, 90 and 9D are undefined: unicode.org, MAPPINGS/VENDORS/MICSFT/WINDOWS/CP1252.TXT.
    data = b"a\n\x81\xe9,\x8d\x8f\x90\x9d\nb\xe9\n"
    for encoding in ("windows-1252", "mixed"):
        assert _lines(data, encoding) == (["a", "\\x81é,\\x8d\\x8f\\x90\\x9d", "bé"], [1])


def test_bytes_without_a_letter_that_together_look_like_utf_8_are_still_damaged() -> None:
    # D2 and AA are undefined in Windows-1253 (CP1253.TXT); as UTF-8, D2 AA would be the letter U+04AA.
    assert _lines(b"a\n\xd2\xaa\n", "cp1253") == (["a", "\\xd2\\xaa"], [1])


@pytest.mark.parametrize(
    ("data", "encoding", "lines", "damaged"),
    [
        ("a\nb".encode("utf-16-le") + b"\x41", "utf-16-le", ["a", "b\\x41"], [1]),  # half a letter at the end
        (b"a\x00\n\x00\x00\xd8b\x00\n\x00", "utf-16-le", ["a", "\\x00\\xd8b"], [1]),  # half a surrogate pair
        (b"a\n\x82\xffb\n", "shift_jis", ["a", "\\x82\\xffb"], [1]),
        (b"a\n\xe9b\n", "ascii", ["a", "\\xe9b"], [1]),
        (b"a\n\xe9b\n", "utf-8", ["a", "\\xe9b"], [1]),
    ],
)
def test_bytes_that_are_no_text_are_shown_and_cost_one_line(
    data: bytes, encoding: str, lines: list[str], damaged: list[int]
) -> None:
    assert _lines(data, encoding) == (lines, damaged)


@given(
    st.text(alphabet=st.characters(codec="utf-8", exclude_characters="\ufeff"), max_size=30), st.sampled_from(CODECS)
)
@example("Ӕ\n", "cp1251")
def test_what_a_codec_can_write_is_read_back(text: str, encoding: str) -> None:
    try:
        data = text.encode(encoding)
    except UnicodeError:
        return
    if data.decode(encoding, "replace") != text:  # some codecs fold letters together, such as hz
        return
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(byte_stream, "PIECE_BYTES", 3)  # so that letters lie across pieces
        assert decoded(io.BytesIO(data), encoding).read().decode().removeprefix("\ufeff") == text


@pytest.mark.filterwarnings("ignore:.*invalid.*escape sequence:DeprecationWarning")
@given(st.binary(max_size=60), st.sampled_from([*CODECS, "mixed", ""]))
def test_no_bytes_break_the_reading_of_any_encoding(data: bytes, encoding: str) -> None:
    whole = decoded(io.BytesIO(data), encoding).read()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(byte_stream, "PIECE_BYTES", 2)
        lines, damaged = _lines(data, encoding)
        assert decoded(io.BytesIO(data), encoding).read() == whole
    if is_utf8(encoding) or not encoding:
        return
    # A damaged line is one in which the codec stumbles: reference, the codec's own strict reading.
    try:
        data.decode("cp1252" if encoding == "mixed" else encoding)
        is_sound = True
    except UnicodeError:
        is_sound = False
    surrogates = "\\ud" in repr(data.decode(encoding, "ignore")) if encoding != "mixed" else False
    if is_sound and not surrogates:
        assert damaged == []
    elif encoding != "mixed":
        assert damaged or not lines


@given(st.lists(st.sampled_from([b"\n", b"\r\n", b"\r", b"a", "é".encode(), b"\xe9", b"\x81", b"\xc3"]), max_size=30))
def test_mixed_loses_no_line_and_decides_each_alone(pieces: list[bytes]) -> None:
    data = b"".join(pieces)
    wanted = []
    for line in data.splitlines():  # LF, CRLF and CR
        try:
            wanted.append(line.decode())
        except UnicodeDecodeError:
            wanted.append(line.decode("cp1252", "backslashreplace"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(byte_stream, "PIECE_BYTES", 2)
        assert _lines(data, "mixed")[0] == wanted
    assert _lines(data, "mixed")[0] == wanted


class _Endless(io.RawIOBase):
    """Many bytes without a line end, without holding them."""

    def __init__(self, size: int) -> None:
        self.left = size

    def read(self, size: int = -1) -> bytes:
        count = min(size, self.left)
        self.left -= count
        return b"\xe9" * count


@pytest.mark.parametrize("encoding", ["mixed", "latin-1"])
def test_memory_does_not_grow_with_a_line_that_never_ends(encoding: str) -> None:
    stream = decoded(_Endless(200 << 20), encoding)  # type: ignore[arg-type]
    tracemalloc.start()
    count = 0
    while piece := stream.read(1 << 20):
        count += len(piece)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert count >= 200 << 20
    assert peak < 128 << 20


@pytest.mark.parametrize(
    ("encoding", "words"),
    [
        ("utf-8", "The row holds bytes that are not UTF-8 (shown as \\xNN). Export the file as UTF-8 text."),
        ("cp1252", "The row holds bytes that are no text in cp1252 (shown as \\xNN). Name the encoding"),
        ("mixed", "The row holds bytes that are no text in UTF-8 or Windows-1252"),
        ("", "The row holds bytes that are no text in the encoding of the file"),
    ],
)
def test_the_reason_names_the_encoding(encoding: str, words: str) -> None:
    assert not_text(encoding).startswith(words)


def test_most_codecs_of_the_library_can_be_read() -> None:
    # Python documents about a hundred text encodings; those left out have no bound or are no text.
    assert len(CODECS) > 80
    assert {codecs.lookup(name).name for name in ("koi8-r", "gb18030", "euc-jp", "iso8859-15", "cp850")} <= {
        codecs.lookup(name).name for name in CODECS
    }
