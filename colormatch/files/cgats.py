"""The open text exchange form for colour data: ISO 28178, in its ASCII form CGATS.17.

Reads what programs write rather than what the standard allows: counts that are wrong,
end marks that are missing, sets that run over several lines, any case. Whatever was
put right is noted; what could only be guessed is refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from colormatch.errors import ReferenceFileError
from colormatch.files.tables import MAX_COLUMNS, MAX_ROWS, Table

TOKEN = re.compile(r""""(?P<double>[^"]*)"?|'(?P<single>[^']*)'?|(?P<note>#.*)|(?P<bare>[^\s#]+)""")

BLOCKS = ("BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "BEGIN_DATA", "END_DATA")

COUNTS = ("NUMBER_OF_FIELDS", "NUMBER_OF_SETS")


@dataclass(frozen=True)
class _Line:
    """The tokens of one line that has any."""

    number: int
    tokens: tuple[str, ...]
    raw: str

    @property
    def word(self) -> str:
        return self.tokens[0].upper()


@dataclass
class _Draft:
    """A table while it is being read."""

    header: dict[str, str] = field(default_factory=dict)
    columns: list[str] = field(default_factory=list)
    data: list[_Line] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    block: str = "header"


def is_cgats(lines: Sequence[str]) -> bool:
    """Tell whether a text is in this form, by its block marks."""
    return any(re.match(r"\s*BEGIN_DATA(_FORMAT)?\b", line, re.IGNORECASE) for line in lines)


def parse_cgats(lines: Sequence[str], where: str) -> list[Table]:
    """Read all tables of a text.

    Parameters
    ----------
    lines : sequence of str
        The lines of the file.
    where : str
        Names the file in messages.

    Returns
    -------
    list of Table
        At least one; each has rows.

    Raises
    ------
    ReferenceFileError
        Naming the line, if the blocks or the cells cannot be sorted out.
    """
    drafts = [_Draft()]
    for line in _tokenised(lines):
        if drafts[-1].block == "done" and line.word != "END_DATA":
            drafts.append(_Draft())
        _take(drafts[-1], line, where)
    if drafts[-1].block == "header" and len(drafts) > 1:
        drafts.pop()
    return [_table(draft, where) for draft in drafts]


def _tokenised(lines: Sequence[str]) -> Iterator[_Line]:
    """Split lines into tokens; comments and empty lines fall away."""
    for number, line in enumerate(lines, start=1):
        found = (match for match in TOKEN.finditer(line) if match["note"] is None)
        tokens = tuple(
            next(
                part
                for part in (match["double"], match["single"], match["bare"], "")
                if part is not None
            )
            for match in found
        )
        if tokens:
            yield _Line(number, tokens, line)


def _take(draft: _Draft, line: _Line, where: str) -> None:
    """Put one line where it belongs."""
    match line.word:
        case "BEGIN_DATA_FORMAT":
            if draft.block != "header":
                raise ReferenceFileError(
                    f"{where}: line {line.number}: a new table begins inside the {draft.block}: "
                    "END_DATA or END_DATA_FORMAT is missing before it"
                )
            draft.block = "format"
        case "BEGIN_DATA":
            _end_format(draft, line.word)
            if draft.block == "data":
                raise ReferenceFileError(
                    f"{where}: line {line.number}: BEGIN_DATA inside the data: "
                    "END_DATA is missing before it"
                )
            draft.block = "data"
        case "END_DATA_FORMAT":
            draft.block = "header" if draft.block == "format" else draft.block
            return
        case "END_DATA":
            draft.block = "done"
            return
        case _:
            if line.word in COUNTS:
                _end_format(draft, line.word)
            _keep(draft, line)
            return
    if len(line.tokens) > 1:
        _take(draft, _Line(line.number, line.tokens[1:], line.raw), where)


def _end_format(draft: _Draft, word: str) -> None:
    """End the names of the columns at a word that cannot be one."""
    if draft.block == "format":
        draft.notes.append(f"END_DATA_FORMAT is missing and was assumed before {word}")
        draft.block = "header"


def _keep(draft: _Draft, line: _Line) -> None:
    """Keep a line that is content, not a block mark."""
    last = line.tokens[-1].upper()
    ends = last if len(line.tokens) > 1 and last in ("END_DATA", "END_DATA_FORMAT") else ""
    tokens = line.tokens[:-1] if ends else line.tokens
    match draft.block:
        case "format":
            draft.columns += tokens
            draft.block = "header" if ends == "END_DATA_FORMAT" else "format"
        case "data":
            draft.data.append(_Line(line.number, tokens, line.raw))
            draft.block = "done" if ends == "END_DATA" else "data"
        case _ if line.word != "KEYWORD":
            value = " ".join(line.tokens[1:]).strip()
            known = draft.header.get(line.word)
            draft.header[line.word] = f"{known}; {value}" if known and value else known or value


def _table(draft: _Draft, where: str) -> Table:
    """Turn a draft into a table of whole rows."""
    if not draft.columns:
        raise ReferenceFileError(
            f"{where}: BEGIN_DATA_FORMAT with the names of the columns is missing"
        )
    if draft.block in ("header", "format") or not draft.data:
        raise ReferenceFileError(f"{where}: no values between BEGIN_DATA and END_DATA")
    if draft.block == "data":
        draft.notes.append("END_DATA is missing: read to the end of the file")
    columns, sets = len(draft.columns), sum(len(line.tokens) for line in draft.data)
    if columns > MAX_COLUMNS or sets > MAX_ROWS * columns:
        raise ReferenceFileError(
            f"{where}: {sets} values in {columns} columns, more than any sheet has: "
            "not the reference of a target"
        )
    rows, lines = _rows(draft.data, columns, where)
    for word, count in zip(COUNTS, (len(draft.columns), len(rows)), strict=True):
        stated = draft.header.get(word)
        if stated is not None and stated != str(count):
            draft.notes.append(f"{word} says {stated[:20]!r}, but there are {count}")
    return Table(
        where=where,
        header=draft.header,
        columns=tuple(draft.columns),
        rows=tuple(rows),
        lines=tuple(lines),
        notes=tuple(draft.notes),
    )


def _rows(data: list[_Line], width: int, where: str) -> tuple[list[tuple[str, ...]], list[int]]:
    """Cut the stream of tokens into sets of ``width``.

    Where most lines hold one whole set each, a line that does not is a slip and must
    not shift all that follow.
    """
    in_lines = 2 * sum(len(line.tokens) == width for line in data) > len(data)
    rows: list[tuple[str, ...]] = []
    starts: list[int] = []
    pending: list[str] = []
    begun = data[0]
    for line in data:
        if not pending:
            begun = line
        elif in_lines and len(line.tokens) == width:
            raise ReferenceFileError(_odd(begun, width, where))
        pending += line.tokens
        whole = len(pending) - len(pending) % width
        for i in range(0, whole, width):
            rows.append(tuple(pending[i : i + width]))
            starts.append(line.number if i else begun.number)
        if whole:
            pending, begun = pending[whole:], line
    if pending:
        raise ReferenceFileError(_odd(begun, width, where))
    return rows, starts


def _odd(line: _Line, width: int, where: str) -> str:
    """Say what is wrong with a line that does not hold a whole set."""
    start = f"{where}: line {line.number}, patch {line.tokens[0][:40]!r}: "
    if len(line.raw.split("\t")) == width:
        return start + "a value is empty: correct it or take the patch out"
    return start + (
        f"{len(line.tokens)} values where the format names {width} columns: "
        "one is missing or too many"
    )
