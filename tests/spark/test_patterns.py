"""Regular expressions for Java, worked by hand from the two engines' manuals: RE2's syntax page and java.util.regex.

RE2: \\s is [\\t\\n\\f\\r ], \\b is a boundary of ASCII words, $ without m is the end of the text. Java: \\s holds
\\x0B too, $ also stands before a last line feed, and \\b of Java 17 counts letters of any script.
"""

from __future__ import annotations

import pytest

from pipeline.spark.patterns import java_pattern

BOUND = "(?:(?<=[0-9A-Za-z_])(?![0-9A-Za-z_])|(?<![0-9A-Za-z_])(?=[0-9A-Za-z_]))"


@pytest.mark.parametrize(
    ("ours", "java"),
    [
        ("[0-9]+", "[0-9]+"),
        ("[^a-z0-9]+", "[^a-z0-9]+"),
        (r"\s+", r"[\t\n\f\r ]+"),
        (r"\S*[0-9]\S*$", r"[^\t\n\f\r ]*[0-9][^\t\n\f\r ]*\z"),
        (r"\bsn", BOUND + "sn"),
        (r"\p{L}\.", r"\p{L}\."),
        ("(?:a|b)[.:]", "(?:a|b)[.:]"),
        ("[]x]", None),  # a bracket that begins a class stands for itself in RE2 and ends nothing; Java reads on
        (r"a[\s]", None),
        ("a.b", None),
        ("a*+", None),
        (r"\Qa", None),
        ("[a&&b]", None),
        ("[[:alpha:]]", None),
        ("(?i)a", None),
    ],
)
def test_a_pattern_is_spelt_out_or_refused(ours: str, java: str | None) -> None:
    if java is None:
        with pytest.raises(ValueError, match=r"."):
            java_pattern(ours)
    else:
        assert java_pattern(ours) == java
