"""A shop's history written in the CSV form for interchange, so that it is read back to the last digit."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any

from quotes.costing.learning.files.csv_rows import COLUMNS, SET_UP
from quotes.costing.learning.history import History, HistoryMaterial, Receipt, ShelfCount, Term


def write_history(history: History) -> dict[str, str]:
    """Texts of a history's files, by file name. Steps done again and their logs are left out: the form has none."""
    terms = [term for term in history.terms if not term.again]
    logs = [log for log in history.logs if not log.again]
    return {
        "materials.csv": _text(
            "materials.csv", (_material_fields(found) for found in history.trade.materials.values())
        ),
        "factors.csv": _text("factors.csv", ((*cell, *usual) for cell, usual in history.trade.factors.items())),
        "terms.csv": write_terms(terms, set_ups=history.trade.set_ups),
        "logs.csv": _text("logs.csv", (log[:5] for log in logs)),
        "receipts.csv": _text("receipts.csv", _in_order(history.receipts)),
        "counts.csv": _text("counts.csv", _in_order(history.counts)),
        "hours.csv": _text("hours.csv", sorted(history.hours)),
    }


def _each_once(terms: Iterable[Term]) -> list[Term]:
    """Steps that are alike to the last digit as one with the need of all.

    A line that stands twice is taken for a mistake.
    """
    alike = Counter(Term(*term[:8], set_up=term.set_up) for term in terms)
    return [
        term._replace(need=term.need * many, mixes=term.mixes * many, set_up=term.set_up * many)
        for term, many in alike.items()
    ]


def write_terms(terms: Iterable[Term], *, set_ups: bool = False) -> str:
    """Text of terms.csv, or of ask.csv; with a column for what sets up where that is told apart."""
    once = _each_once(terms)
    if not set_ups:
        return _text("terms.csv", (term[:8] for term in once))
    return _text("terms.csv", ((*term[:8], term.set_up) for term in once), (SET_UP,))


def _material_fields(material: HistoryMaterial) -> tuple[Any, ...]:
    loss = material.loss or ("", "", "")
    batch = "" if material.max_batch is None else material.max_batch
    steps = (material.log_step, material.count_step, batch)
    return (material.key, material.unit, material.price, material.group, *loss, *steps)


def _text(file: str, rows: Iterable[Sequence[Any]], further: Sequence[str] = ()) -> str:
    """CSV text; numbers so that they are read back to the last digit."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow((*COLUMNS[file], *further))
    for row in rows:
        writer.writerow([_plain(field) if isinstance(field, int | float) else field for field in row])
    return out.getvalue()


def _in_order(moved: Iterable[Receipt | ShelfCount]) -> list[Receipt | ShelfCount]:
    return sorted(moved, key=lambda one: (one.material, one.day))


def _plain(number: float) -> str:
    """A number as short as it is exact: 12, 0.1, 1e-07."""
    return repr(float(number)).removesuffix(".0")
