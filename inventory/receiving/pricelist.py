"""A supplier's price list, a table of text, read line by line. PURE: text in; prices and sentences out.

Columns are found by their headings, in any order: an article number and a price, and what the article is called where
that is said. The delimiter is whichever of ; , tab
and | the headings use. A cell that is no price is told with its line; a formula is no price. Nothing is guessed.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple

from shop.measures.money import read_money
from shop.measures.units import UnitError

MOST_LINES = 20_000  # more is no price list of a supplier to a repair shop; 5 000 to 50 000
MOST_TOLD = 50  # problems are told up to this many, then counted
DELIMITERS = ";,\t|"
ARTICLE = {
    "article",
    "article no",
    "article number",
    "art no",
    "item",
    "item no",
    "item number",
    "code",
    "sku",
    "part no",
}
PRICE = {"price", "net price", "unit price", "price net", "price without tax", "price ex tax", "ex vat", "price ex vat"}
CALLED = {"name", "description", "article name", "product", "product name", "designation", "text", "item name"}
FORMULA = ("=", "+", "@", "-")


class PricedArticle(NamedTuple):
    """One article and its price without tax, with the line it stands on and what the list calls it ("" unsaid)."""

    line: int
    article: str
    price: Decimal
    words: str = ""


@dataclass
class Reading:
    """What a list says, and what in it could not be read; with problems nothing of it may be taken over."""

    priced: list[PricedArticle] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    more_problems: int = 0

    def tell(self, sentence: str) -> None:
        """Put a sentence on the list; beyond the most that are told it only counts."""
        if len(self.problems) < MOST_TOLD:
            self.problems.append(sentence)
        else:
            self.more_problems += 1


def read_list(text: str, *, currency: str) -> Reading:
    """The articles and prices of a list. Never raises: what is wrong stands in `problems`, with line and column."""
    reading = Reading()
    lines = text.splitlines()
    if len(lines) > MOST_LINES:
        reading.tell(f"The list has {len(lines)} lines; {MOST_LINES} is the most that is read.")
        return reading
    if lines and lines[0].strip().lower().startswith("sep="):  # how some spreadsheets name the delimiter
        lines[0] = ""
        text = "\n".join(lines)
    first = next((line for line in lines if line.strip()), "")
    delimiter = max(DELIMITERS, key=first.count)
    rows = csv.reader(io.StringIO(text), delimiter=delimiter)
    columns: tuple[int, ...] | None = None
    seen: dict[str, int] = {}
    try:
        for row in rows:
            if not any(cell.strip() for cell in row):
                continue
            if columns is None:
                columns = _columns(row, reading)
                if columns is None:
                    return reading
                continue
            _read_row(rows.line_num, row, columns, seen, currency, reading)
    except csv.Error:
        reading.tell(f"Line {rows.line_num} cannot be cut into cells; save the list as CSV again.")
    if columns is None:
        reading.tell("The list is empty.")
    return reading


def _columns(headings: list[str], reading: Reading) -> tuple[int, ...] | None:
    """Where article and price stand, and what the article is called if one column says so."""
    names = [" ".join(heading.lower().replace(".", " ").replace("_", " ").split()) for heading in headings]
    found = []
    for wanted, heading in ((ARTICLE, "article"), (PRICE, "price")):
        here = [number for number, name in enumerate(names) if name in wanted]
        if len(here) != 1:
            what = "no column is" if not here else "two columns are"
            reading.tell(f"Line 1: {what} headed {heading}; name one column “{heading}” and save the list again.")
        found += here[:1]
    called = [number for number, name in enumerate(names) if name in CALLED][:1]
    return None if reading.problems else (*found, *called)


def _read_row(
    line: int, row: list[str], columns: tuple[int, ...], seen: dict[str, int], currency: str, reading: Reading
) -> None:
    if len(row) <= max(columns[:2]):
        reading.tell(f"Line {line} has {len(row)} cells; the price is missing.")
        return
    article, price, *called = (row[column].strip() for column in columns if column < len(row))
    if not article:
        reading.tell(f"Line {line}: article is empty.")
    elif article[:1] in FORMULA:
        reading.tell(f"Line {line}, article: {article[:20]} is a formula, not an article.")
    elif price[:1] in FORMULA:
        reading.tell(f"Line {line}, price: {price[:20]} must be a price of zero or more, not a formula.")
    elif article.casefold() in seen:
        reading.tell(f"Line {line}: article {article[:40]} stands on line {seen[article.casefold()]} too.")
    else:
        try:
            amount = read_money(price, currency=currency, name=f"Line {line}, price")
        except UnitError as problem:
            reading.tell(problem.sentence)
        else:
            seen[article.casefold()] = line
            reading.priced.append(PricedArticle(line, article, amount, "".join(called)))
