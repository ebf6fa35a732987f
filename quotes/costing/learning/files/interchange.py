"""A shop's history as CSV text that belongs to no program: UTF-8, a header row, point decimals, days as numbers.

Reading finds everything that is wrong, each in a sentence with file, line and field, and then gives nothing at all;
what it gives can be learned from. Files are read and written by the commands, never here.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from quotes.costing.learning.files.csv_rows import ASK, COLUMNS, SET_UP, CsvRow, Unreadable, rows_of
from quotes.costing.learning.history import (
    Cell,
    History,
    HistoryMaterial,
    Hours,
    Log,
    Range,
    Receipt,
    ShelfCount,
    Term,
    Trade,
)
from quotes.costing.stats.assumptions import MINUTES

MAY_BE_MISSING = ("hours.csv",)
UNITS = ("g", "mL", "m", "m2", "each")
_MOST_LOGGED = 1e8  # a slip of × 1000 is a doubtful log, 10⁹ is no log
_MOMENT = 1e-5  # days
_SLOPPY = 0.03  # sd of a count by eye, as a share of what is there; what is only sloppy the model weighs
_SURE = 4.0  # sd that a count must lie above opening + receipts to contradict them


def read_all(texts: Mapping[str, str], ask: str) -> tuple[History, list[Term]]:
    """History in the texts of its files, by file name, and the steps of the jobs asked about.

    Raises Unreadable with every problem found in either.
    """
    problems = [
        f"{file} is missing; the history needs it, if only with its header row: {','.join(columns)}."
        for file, columns in COLUMNS.items()
        if file not in texts and file not in MAY_BE_MISSING
    ]
    if problems:
        raise Unreadable(problems)
    materials = _materials(texts["materials.csv"], problems)
    trade = Trade(materials, _factors(texts["factors.csv"], materials, problems))
    terms = _by_first_day(_terms("terms.csv", texts["terms.csv"], trade, problems))
    trade = replace(trade, set_ups=any(term.set_up for term in terms))
    asked = _terms(ASK, ask, trade, problems)
    logs = _logs(texts["logs.csv"], terms, problems)
    receipts = _receipts(texts["receipts.csv"], trade, problems)
    counts = _counts(texts["counts.csv"], trade, receipts, problems)
    hours = _hours(texts.get("hours.csv", ""), problems)
    if problems:
        raise Unreadable(problems)
    return History(trade, tuple(terms), tuple(logs), tuple(receipts), tuple(counts), tuple(hours)), asked


def _materials(text: str, problems: list[str]) -> dict[str, HistoryMaterial]:
    """Materials of materials.csv by key, with what is wrong on the list."""
    found: dict[str, HistoryMaterial] = {}
    for row in rows_of("materials.csv", text, problems):
        key, unit = row.text("material"), row.text("unit")
        if key == MINUTES:
            row.wrong("material", "“minutes” is labour; a material needs another name.")
        if key in found:
            row.wrong("material", f"“{key}” stands here twice.")
        if unit not in UNITS:
            row.wrong("unit", f"“{unit}” is no unit; use one of {' '.join(UNITS)}.")
        names = ("loss_mid", "loss_lo", "loss_hi")
        step = row.optional("log_step", above=False) or 0.0
        loss = row.middle_and_range(names) if any(row.text(name, empty=True) for name in names) else None
        material = HistoryMaterial(
            key=key,
            unit=unit,
            price=row.number("price", above=False),
            group=row.text("group", empty=True),
            loss=loss,
            log_step=step,
            count_step=row.optional("count_step", above=False) or 0.0,
            max_batch=row.optional("max_batch"),
            in_parts=unit == "each" and 0 < step < 1,  # logged by parts of a piece: a piece serves several jobs
        )
        if key:
            found[key] = material  # even where a figure is wrong: what stands on it is not wrong as well
    return found


def _factors(text: str, materials: Mapping[str, HistoryMaterial], problems: list[str]) -> dict[Cell, Range]:
    """Trade defaults of factors.csv by cell, with what is wrong on the list."""
    found: dict[Cell, Range] = {}
    for row in rows_of("factors.csv", text, problems):
        cell = Cell(row.text("operation"), row.text("material"))
        if row.good and cell.material != MINUTES and cell.material not in materials:
            row.wrong("material", f"“{cell.material}” is not in materials.csv.")
        if cell in found:
            row.wrong("operation", f"{cell.operation} with {cell.material} stands here twice.")
        known = row.good
        usual = row.middle_and_range(("mid", "lo", "hi"))
        if known:
            found[cell] = usual
    return found


def _terms(file: str, text: str, trade: Trade, problems: list[str]) -> list[Term]:
    """Steps of terms.csv or ask.csv, with what is wrong on the list."""
    operations = {cell.operation for cell in trade.factors}
    found: list[Term] = []
    met: dict[Term, int] = {}
    for row in rows_of(file, text, problems):
        job, operation, material = (row.text(name) for name in ("job", "operation", "material"))
        if row.good:
            _known(row, Cell(operation, material), trade, operations)
        known = row.good
        need = row.number("need")
        term = Term(
            job=job,
            operation=operation,
            day=row.day(),
            worker=row.text("worker", empty=True),
            material=material,
            need=need,
            mixes=row.optional("mixes", above=False) or 0.0,
            brand=row.text("brand", empty=True),
            set_up=row.part_of(need, SET_UP) if material == MINUTES else 0.0,
        )
        if known and not row.text("mixes", empty=True):
            term = term._replace(mixes=_planned(term, trade))
        if row.good and met.setdefault(term, row.line) != row.line:
            row.wrong("job", f"all of this stands in line {met[term]} already; leave one of them out.")
        if row.good:
            found.append(term)
    return found


def _planned(term: Term, trade: Trade) -> float:
    """How many mixes a need takes by the trade default and the largest batch; 0 for what is not mixed."""
    if trade.loss(term.material) is None:
        return 0.0
    batch = trade.materials[term.material].max_batch
    expected = term.need * trade.factors[Cell(term.operation, term.material)].mid
    return max(1.0, float(math.ceil(expected / batch))) if batch else 1.0


def _by_first_day(terms: Sequence[Term]) -> list[Term]:
    """Job by job in the order of their first days, whatever the order of the file; within a job as it stands there."""
    first: dict[str, float] = {}
    for term in terms:
        first[term.job] = min(term.day, first.get(term.job, math.inf))
    return sorted(terms, key=lambda term: first[term.job])


def _known(row: CsvRow, cell: Cell, trade: Trade, operations: set[str]) -> None:
    if cell.operation not in operations:
        row.wrong("operation", f"“{cell.operation}” is not in factors.csv.")
    elif cell.material != MINUTES and cell.material not in trade.materials:
        row.wrong("material", f"“{cell.material}” is not in materials.csv.")
    elif cell not in trade.factors:
        row.wrong("material", f"factors.csv has no factor for {cell.operation} with {cell.material}.")


def _logs(text: str, terms: Sequence[Term], problems: list[str]) -> list[Log]:
    """Logs of logs.csv, each of a step, with what is wrong on the list."""
    jobs = {term.job for term in terms}
    mixes: dict[tuple[str, str, str], float] = defaultdict(float)
    for term in terms:
        mixes[term.job, term.operation, term.material] += term.mixes
    operations = {key[:2] for key in mixes}
    found: list[Log] = []
    met: dict[Log, list[CsvRow]] = defaultdict(list)
    for row in rows_of("logs.csv", text, problems):
        job, operation, material = (row.text(name) for name in ("job", "operation", "material"))
        if job not in jobs:
            row.wrong("job", f"there is no job “{job}” in terms.csv.")
        elif (job, operation) not in operations:
            row.wrong("operation", f"job {job} has no “{operation}” in terms.csv.")
        elif (job, operation, material) not in mixes:
            row.wrong("material", f"{operation} of job {job} needs no “{material}” in terms.csv.")
        value = row.number("value", most=_MOST_LOGGED)
        log = Log(job, operation, material, value, row.optional("mixes", above=False) or 0.0)
        if row.good:
            met[log].append(row)
            found.append(log)
    _none_twice(met, mixes)
    return found


def _none_twice(met: Mapping[Log, Sequence[CsvRow]], mixes: Mapping[tuple[str, str, str], float]) -> None:
    """Put logs that are alike on the list, as one written twice, unless as many mixes were planned.

    Where a file has several logs of one step anyhow, one more mix or sitting may have come out alike.
    """
    apart = len({log[:3] for log in met}) < len(met)
    for log, rows in met.items():
        most = max(1, math.ceil(mixes[log[:3]])) + apart
        for row in rows[most:]:
            row.wrong("value", f"all of this stands in line {rows[0].line} already; leave one of them out, or write "
                               "what was logged as one.")  # fmt: skip


def _receipts(text: str, trade: Trade, problems: list[str]) -> list[Receipt]:
    """Deliveries of receipts.csv, with what is wrong on the list."""
    found: list[Receipt] = []
    last: dict[str, float] = {}
    for row in rows_of("receipts.csv", text, problems):
        receipt = Receipt(row.day(), row.text("material"), row.number("qty"))
        _on_the_shelf(row, receipt.material, trade)
        if row.good and receipt.day < last.get(receipt.material, -math.inf):
            row.wrong("day", f"day {receipt.day:g} comes after day {last[receipt.material]:g}; days must go forward.")
        if row.good:
            last[receipt.material] = receipt.day
            found.append(receipt)
    return found


def _counts(text: str, trade: Trade, receipts: Sequence[Receipt], problems: list[str]) -> list[ShelfCount]:
    """Counts of counts.csv, with what is wrong on the list."""
    found: dict[str, list[ShelfCount]] = defaultdict(list)
    for row in rows_of("counts.csv", text, problems):
        count = ShelfCount(row.day(), row.text("material"), row.number("qty", above=False))
        _on_the_shelf(row, count.material, trade)
        before = found[count.material]
        if row.good and before and count.day <= before[-1].day:
            row.wrong("day", f"day {count.day:g} does not come after day {before[-1].day:g}; days must go forward.")
        if row.good and before:
            _not_grown(row, before[-1], count, trade.materials[count.material], receipts)
        if row.good:
            before.append(count)
    return [count for counts in found.values() for count in counts]


def _not_grown(
    row: CsvRow, before: ShelfCount, count: ShelfCount, material: HistoryMaterial, receipts: Sequence[Receipt]
) -> None:
    """Put a count on the list that shows more than can be there.

    What came in on the day of the first count may have come after it.
    """
    came = sum(
        receipt.qty
        for receipt in receipts
        if receipt.material == count.material and before.day <= receipt.day <= count.day
    )
    if grown(before, count, came, material):
        row.wrong(
            "qty",
            f"{count.qty:g} {material.unit} of {count.material} on day {count.day:g} is more than the {before.qty:g} "
            f"of day {before.day:g} and the {came:g} received since; a delivery is missing, or a count is wrong.",
        )


def grown(before: ShelfCount, count: ShelfCount, came: float, material: HistoryMaterial) -> bool:
    """Whether a count shows more than was there and `came` in (its unit), beyond what a careless eye allows."""
    error = material.count_step + _SURE * _SLOPPY * math.hypot(before.qty, count.qty)
    return count.qty > before.qty + came + error


def _on_the_shelf(row: CsvRow, material: str, trade: Trade) -> None:
    if row.good and material not in trade.materials:
        row.wrong("material", f"“{material}” is not in materials.csv.")


def _hours(text: str, problems: list[str]) -> list[Hours]:
    """Totals of hours.csv, with what is wrong on the list."""
    found: list[Hours] = []
    last: dict[str, float] = {}
    if not text.strip():
        return found
    for row in rows_of("hours.csv", text, problems):
        hours = Hours(row.day("from_day"), row.day("to_day"), row.text("worker", empty=True), row.number("minutes"))
        if row.good and hours.to_day < hours.from_day:
            row.wrong("to_day", f"day {hours.to_day:g} comes before from_day {hours.from_day:g}.")
        before = last.get(hours.worker, -math.inf)
        if row.good and (hours.from_day < before or hours.to_day <= before):
            row.wrong("from_day", f"day {hours.from_day:g} lies within the total of this worker up to day "
                                  f"{before:g}; days must go forward.")  # fmt: skip
        if row.good:
            last[hours.worker] = hours.to_day
            found.append(hours)
    return _to_the_end_of_the_day(found)


def _to_the_end_of_the_day(found: Sequence[Hours]) -> list[Hours]:
    """Totals from one moment to another, whatever the file means by its days.

    Whole days (0 to 6, 7 to 13) reach to the end of the last one; where totals begin on the day the one before ended (0
    to 7, 7 to 14) days are moments, and what was done at that very moment belongs to the total before.
    """
    ends = {(hours.worker, hours.to_day) for hours in found if hours.to_day > hours.from_day}
    if any((hours.worker, hours.from_day) in ends for hours in found):
        return [hours._replace(from_day=hours.from_day + _MOMENT * ((hours.worker, hours.from_day) in ends))
                for hours in found]  # fmt: skip
    return [hours._replace(to_day=hours.to_day + 1.0 - _MOMENT)
            if hours.from_day.is_integer() and hours.to_day.is_integer() else hours for hours in found]  # fmt: skip
