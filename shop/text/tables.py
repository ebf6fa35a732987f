"""A table of text as spreadsheets save it: its letters, delimiter and lines. PURE: bytes in; cells and sentences out.

The form is that of RFC 4180, Common Format and MIME Type for Comma-Separated Values (CSV) Files, section 2, with any
delimiter; quotes are doubled inside quotes, and a cell may hold line breaks. What a cell says is never worked out.
"""

from __future__ import annotations

import codecs
import csv
import io
from collections import Counter
from dataclasses import dataclass
from typing import NamedTuple

USUAL = ";,\t|"
UNUSUAL = ":^~#"  # tried only where none of the usual ones cuts the table
LOOKED_AT = 50  # lines that tell the delimiter
NULS_OF_UTF_16 = 0.2  # share of empty bytes at one side of each pair; Western text has nearly all, other scripts none


class NotATable(Exception):
    """The file holds no text; `sentence` says so and what would be right."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class TableRow(NamedTuple):
    """The cells of one line of the table; `line` is where it begins in the file, from 1."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """The lines that hold something, how many do not, and a sentence where the rest cannot be cut into cells."""

    rows: tuple[TableRow, ...]
    empty: int
    problem: str = ""


def as_text(data: bytes) -> str:
    """The text of a file as people save it: UTF-8 or UTF-16, marked or not, or else Western Windows letters.

    Raises NotATable for a workbook and for anything else that is no text.
    """
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise NotATable("This is a workbook, not a table of text: save it as CSV and send that file.")
    text = _decoded(data)
    if "\0" in text:
        raise NotATable(
            "This file holds no text that can be read: save the table as CSV, in UTF-8, and send that file."
        )
    return text


def _decoded(data: bytes) -> str:
    marked = {codecs.BOM_UTF8: "utf-8-sig", codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16"}
    for mark, encoding in marked.items():
        if data.startswith(mark):
            return data.decode(encoding, errors="replace")
    pairs = max(len(data) // 2, 1)
    for side, encoding in ((1, "utf-16-le"), (0, "utf-16-be")):
        if data[side::2].count(0) / pairs > NULS_OF_UTF_16:
            return data.decode(encoding, errors="replace")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def read_table(text: str) -> Table:
    """The table of a text. Never raises: what cannot be cut stands in `problem`, and all before it is read."""
    first, _, rest = text.partition("\n")
    named = first.strip().lower().startswith("sep=") and len(first.strip()) == 5  # how some spreadsheets name it
    delimiter = first.strip()[4] if named else delimiter_of(text)
    reader = csv.reader(io.StringIO(rest if named else text, newline=""), delimiter=delimiter, strict=True)
    rows, empty, problem, line = [], 0, "", 1 + named
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append(TableRow(line, tuple(cell.strip() for cell in cells)))
            else:
                empty += 1
            line = reader.line_num + 1 + named
    except csv.Error:
        problem = (
            f"From line {line} on the file cannot be cut into cells; a quote is open there. Mend it and send it again."
        )
    return Table(tuple(rows), empty, problem)


def delimiter_of(text: str) -> str:
    """The sign that cuts most lines into the same number of cells, two at least; a comma where none does."""
    start = "\n".join(text.splitlines()[:LOOKED_AT])
    for signs in (USUAL, UNUSUAL):
        best = max(signs, key=lambda sign: _evenly(start, sign))
        if _evenly(start, best) > (0, 0):
            return best
    return ","


def _evenly(start: str, sign: str) -> tuple[float, int]:
    """Which share of the lines has the usual number of cells, and that number; nothing where that is one."""
    try:
        widths = Counter(len(row) for row in csv.reader(io.StringIO(start, newline=""), delimiter=sign) if row)
    except csv.Error:
        return (0, 0)
    if not widths:
        return (0, 0)
    width, often = widths.most_common(1)[0]
    return (round(often / widths.total(), 1), width) if width > 1 else (0, 0)
