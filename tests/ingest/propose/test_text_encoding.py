"""Which encoding is proposed for texts that the codecs of the standard library wrote."""

from __future__ import annotations

import pytest

from pipeline.ingest.propose.text_encoding import propose_encoding

TEXT = "Zeit;Störung;Åtgärd\n20:00;Bild zurück;rengöring på huvudet\n" * 5


def _proposed(data: bytes) -> dict[str, str]:
    return {setting.key: setting.value for setting in propose_encoding(data).settings if setting.is_decided}


@pytest.mark.parametrize(
    ("encoding", "proposed"),
    [
        ("utf-8", "utf-8"),
        ("utf-8-sig", "utf-8"),
        ("utf-16", "utf-16"),
        ("utf-16-le", "utf-16-le"),
        ("windows-1252", "windows-1252"),
    ],
)
def test_the_encoding_is_told(encoding: str, proposed: str) -> None:
    assert _proposed(TEXT.encode(encoding)) == {"encoding": f'"{proposed}"'}


def test_ascii_tells_nothing() -> None:
    assert _proposed(b"at,machine\n") == {}


def test_lines_of_two_encodings() -> None:
    assert _proposed(TEXT.encode() + TEXT.encode("windows-1252")) == {"encoding": '"mixed"'}


def test_older_letters_are_asked_about() -> None:
    findings = propose_encoding(TEXT.encode("cp850"))
    assert not [setting for setting in findings.settings if setting.is_decided]
    assert findings.undecided[0].startswith("encoding: ")
    assert "rengöring" in findings.undecided[0] or "zurück" in findings.undecided[0]


def test_a_letter_cut_in_half_at_the_end_is_no_other_encoding() -> None:
    assert _proposed("Störung ü".encode()[:-1]) == {"encoding": '"utf-8"'}
