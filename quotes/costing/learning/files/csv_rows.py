"""Lines of CSV text, read field by field; what is wrong becomes a sentence with file, line and field."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Mapping, Sequence

from quotes.costing.learning.history import Range

COLUMNS: dict[str, tuple[str, ...]] = {
    "materials.csv": (
        "material", "unit", "price", "group", "loss_mid", "loss_lo", "loss_hi", "log_step", "count_step", "max_batch",
    ),
    "factors.csv": ("operation", "material", "mid", "lo", "hi"),
    "terms.csv": ("job", "operation", "day", "worker", "material", "need", "mixes", "brand"),
    "logs.csv": ("job", "operation", "material", "value", "mixes"),
    "receipts.csv": ("day", "material", "qty"),
    "counts.csv": ("day", "material", "qty"),
    "hours.csv": ("from_day", "to_day", "worker", "minutes"),
}  # fmt: skip
ASK = "ask.csv"
SET_UP = "set_up"  # a further column of terms.csv and ask.csv that may be missing: what of a need of minutes sets up
_MOST = 1e7  # of anything a shop needs, receives or counts, in its unit
_LEAST = 1e-9  # below it nothing is weighed, and products of two such numbers get lost
_LAST_DAY = 1e6  # days since the year 1 and a spreadsheet's days are both below
_WIDEST = 1000.0  # high over low of a range that says anything at all


class Unreadable(ValueError):
    """Mistakes in the files, one sentence each; nothing of them was taken."""

    def __init__(self, problems: Sequence[str]) -> None:
        super().__init__("\n".join(problems))
        self.problems = tuple(problems)


class CsvRow:
    """A line of a file, whose fields are read one by one; what is wrong goes on the list."""

    def __init__(self, file: str, line: int, fields: Mapping[str, str], problems: list[str]) -> None:
        self.file, self.line, self.fields, self.problems = file, line, fields, problems
        self.good = True

    def wrong(self, field: str, words: str) -> None:
        """Put a sentence on the list."""
        self.problems.append(f"{self.file}, line {self.line}, {field}: {words}")
        self.good = False

    def text(self, field: str, *, empty: bool = False) -> str:
        """Field as text, not empty unless it may be."""
        value = self.fields[field].strip()
        if not value and not empty:
            self.wrong(field, "is empty; it must be filled in.")
        return value

    def number(self, field: str, *, least: float = 0.0, above: bool = True, most: float = _MOST) -> float:
        """Field as a finite number above `least` (or no less, without `above`) and no more than `most`."""
        written = self.fields[field].strip()
        try:
            value = float("" if "_" in written else written)  # Python would read 1_0 as ten
        except ValueError:
            self.wrong(field, f"“{written}” is no number; a number with a point is due, such as 12.5.")
            return 1.0
        if not math.isfinite(value):
            self.wrong(field, f"“{written}” is no finite number.")
        elif value < least or (above and value == least):
            self.wrong(field, f"must be {'above' if above else 'no less than'} {least:g}; {written} is not.")
        elif above and value < _LEAST:
            self.wrong(field, f"{written} is too small to be meant; {_LEAST:.9f} is the least.")
        elif value > most:
            self.wrong(field, f"must be no more than {most:,.0f}; {written} is.".replace(",", " "))
        else:
            return value
        return 1.0

    def part_of(self, whole: float, field: str) -> float:
        """Field as a number from 0 up to `whole`; 0 where the field is empty or its column is missing."""
        if not self.fields.get(field, "").strip():
            return 0.0
        value = self.number(field, above=False)
        if self.good and value > whole:
            self.wrong(field, f"must be no more than the whole need of {whole:g}; {value:g} is.")
        return value

    def optional(self, field: str, *, above: bool = True) -> float | None:
        """Field as a number, or None where it is empty."""
        return self.number(field, above=above) if self.fields[field].strip() else None

    def day(self, field: str = "day") -> float:
        """Field as a number of days, from 0 on."""
        return self.number(field, above=False, most=_LAST_DAY)

    def middle_and_range(self, names: tuple[str, str, str]) -> Range:
        """Three fields as a middle and its range, in order."""
        mid, low, high = (self.number(name) for name in names)
        if self.good and not low <= mid <= high:
            self.wrong(
                names[0], f"must lie between {names[1]} and {names[2]}; {mid:g} is not within {low:g} to {high:g}."
            )
        elif self.good and high > _WIDEST * low:
            self.wrong(names[2], f"must be no more than {_WIDEST:g} times {names[1]}; {high:g} over {low:g} is.")
        return Range(mid, low, high)


def rows_of(file: str, text: str, problems: list[str]) -> Iterable[CsvRow]:
    """Lines of a file that are filled in, each with all its fields; what is no such line goes on the list."""
    columns = COLUMNS["terms.csv" if file == ASK else file]
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff")), strict=True)
    try:
        header = [name.strip() for name in next(reader, [])]
        missing = [name for name in columns if name not in header]
        twice = [name for name in columns if header.count(name) > 1]
        if missing:
            problems.append(f"{file}, line 1, {missing[0]}: the header row must name {', '.join(columns)}.")
            return
        if twice:
            problems.append(f"{file}, line 1, {twice[0]}: stands twice in the header row; it must stand there once.")
            return
        for fields in reader:
            if not any(field.strip() for field in fields):
                continue
            while len(fields) > len(header) and not fields[-1].strip():
                fields.pop()  # a spreadsheet pads lines with empty fields
            row = CsvRow(file, reader.line_num, dict(zip(header, fields, strict=False)), problems)
            if len(fields) != len(header):
                row.wrong(header[min(len(fields), len(header) - 1)],
                          f"the line has {len(fields)} fields; the header row has {len(header)}.")  # fmt: skip
                continue
            yield row
    except csv.Error as error:
        problems.append(f"{file}, line {reader.line_num}: is no CSV ({error}).")
