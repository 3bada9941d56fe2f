"""Writes a proposal as TOML: a line a decision with its reason behind it, and as comments what is left to decide."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from pipeline.ingest.feeds import Feed
from pipeline.ingest.propose.contents import ColumnLine, Contents
from pipeline.ingest.propose.patterns import Parts
from pipeline.ingest.propose.sample import Sample
from pipeline.ingest.propose.setting import Findings
from pipeline.ingest.propose.toml_text import (
    comment_lines,
    commented_out,
    list_value,
    pattern_value,
    shown,
    text_value,
    with_reason,
)
from pipeline.ingest.propose.words import WordLine, WordTable

MOST_NAMED = 40  # columns that are named in a comment


def write_table(file: str, sample: Sample, contents: Contents, findings: Findings) -> str:
    """The proposed table as TOML that ``read_site_feeds`` accepts as it stands."""
    rows = sample.batch.read_count
    which = f"{'' if sample.is_whole else 'first '}{rows:,} rows"
    first = f"Proposed for {shown(file)} from its {which}. Read it before you use it."
    lines = [*comment_lines(first), *_sentences("Not decided:", findings.undecided)]
    lines += ["[[feeds]]", *(setting.line for setting in findings.settings)]
    lines += [line for remark in findings.remarks for line in comment_lines(remark)]
    lines += [line for section in _sections(sample, contents) for line in ("", *section)]
    return "\n".join(lines) + "\n"


def write_no_table(file: str, feed: Feed, *, is_found: bool) -> str:
    """Comments that say that the file is read as it is."""
    told = (
        f"{shown(file)} holds {feed.name} in the program's own columns, words and times: it needs no [[feeds]] table."
    )
    where = f"It is found as {feed.name}.csv, {feed.name}-*.csv or in the folder {feed.name}/; the ending stays."
    return "\n".join(comment_lines(told) + ([] if is_found else comment_lines(where))) + "\n"


def _sentences(head: str, sentences: Sequence[str]) -> Iterator[str]:
    if sentences:
        yield from comment_lines(head)
        for sentence in sentences:
            yield from comment_lines(sentence, "# - ", "#   ")


def _sections(sample: Sample, contents: Contents) -> Iterator[list[str]]:
    if contents.columns:
        yield ["[feeds.columns]", *map(_column_line, contents.columns), *_rest(sample, contents)]
    elif rest := list(_rest(sample, contents)):
        yield rest
    if contents.parts:
        yield ["[feeds.parts]", *(line for theirs, parts in contents.parts for line in _part_lines(theirs, parts))]
    if contents.missing:
        yield [
            commented_out("[feeds.constants]", "if one value stands for all rows"),
            *(
                commented_out(f"{ours} = {text_value(example)}", "no column is decided for it")
                for ours, example in contents.missing
            ),
        ]
    for table in contents.words:
        if table.lines:
            yield [f"[feeds.words.{table.column}]", *map(_word_line, table.lines)]
        if table.begins:
            yield [
                commented_out(f"[feeds.begins.{table.column}]", "words that are not listed begin so"),
                *_begin_lines(table),
            ]


def _column_line(line: ColumnLine) -> str:
    ours = [text_value(each) for each in line.ours]
    return with_reason(f"{text_value(line.theirs)} = {ours[0] if len(ours) == 1 else list_value(ours)}", line.why)


def _rest(sample: Sample, contents: Contents) -> Iterator[str]:
    """Which columns are none of ours; they are kept under their own names."""
    used = {line.theirs for line in contents.columns} | {theirs for theirs, _ in contents.parts}
    rest = [header for header in sample.batch.headers if header not in used]
    if rest:
        more = f" and {len(rest) - MOST_NAMED:,} more" if len(rest) > MOST_NAMED else ""
        yield from comment_lines(f"None of ours, kept as they are: {', '.join(map(shown, rest[:MOST_NAMED]))}{more}.")
    if sample.passed_over:
        yield from comment_lines(f"Only the first {len(sample.columns):,} columns were looked at.")


def _part_lines(theirs: str, parts: Parts) -> Iterator[str]:
    yield f"{text_value(theirs)} = ["
    for pattern, why in parts.patterns:
        yield with_reason(f"  {pattern_value(pattern)},", why)
    yield "]"


def _word_line(line: WordLine) -> str:
    rows = f"{line.row_count:,} {'row' if line.row_count == 1 else 'rows'}"
    written = f"{text_value(line.theirs)} = {text_value(line.meaning.ours)}"
    if line.meaning.ours:
        return with_reason(written, f"{rows}; {line.meaning.why}")
    return commented_out(written, f"{rows}; {line.meaning.why or 'what does it mean?'}")


def _begin_lines(table: WordTable) -> Iterable[str]:
    return (
        commented_out(f'{text_value(beginning)} = ""', f"{count:,} rows begin so; what does it mean?")
        for beginning, count in table.begins
    )
