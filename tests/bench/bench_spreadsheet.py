"""The thousand quotes of the portfolio, without draws, against the same sums as a spreadsheet.

Recalculated by LibreOffice. Report only, and only where `soffice` is installed. Both start-ups are measured apart and
said beside the ratio.
"""

from __future__ import annotations

import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from quotes.costing import Portfolio
from tests.bench import Ratio
from tests.bench.bench_portfolio import LINES, QUOTES, RESIN, snapshots

HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?><office:document office:version="1.2" '
    'office:mimetype="application/vnd.oasis.opendocument.spreadsheet" '
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:of="urn:oasis:names:tc:opendocument:xmlns:of:1.2"><office:body><office:spreadsheet>'
    '<table:table table:name="Quotes">'
)
FOOT = "</table:table></office:spreadsheet></office:body></office:document>"


def ratios() -> list[Ratio]:
    """Ours over the spreadsheet's time, both without start-up; nothing where LibreOffice is not installed."""
    office = shutil.which("soffice")
    if office is None:
        print("spreadsheet: LibreOffice (soffice) is not installed here, so it is not compared.")
        return []
    portfolio = Portfolio.of(snapshots())
    with tempfile.TemporaryDirectory() as folder:
        empty = _recalculated(office, Path(folder), HEAD + _row([1.0]) + FOOT)
        whole = _recalculated(office, Path(folder), flat_sheet(portfolio))
    ours = statistics.median(_timed(lambda: portfolio.costs(RESIN)) for _ in range(21))
    sheet = max(whole - empty, 1e-9)
    start = _timed(lambda: subprocess.run([sys.executable, "-c", "import quotes.costing"], check=True))
    words = f"a spreadsheet of as many formulas; start-up apart: LibreOffice {empty:.1f} s, ours {start:.1f} s"
    return [Ratio(f"{QUOTES} quotes × {LINES} lines, against a spreadsheet", ours, sheet, ours / sheet, None, words)]


def flat_sheet(portfolio: Portfolio) -> str:
    """One row a line: use, price, use × price; behind the last line of each quote its sum. No cached values."""
    rows = []
    for first in range(0, QUOTES * LINES, LINES):
        for line in range(first, first + LINES):
            price = portfolio.stored[portfolio.price[line]]
            formulas = [f"of:=[.A{line + 1}]*[.B{line + 1}]"]
            if line == first + LINES - 1:
                formulas.append(f"of:=SUM([.C{first + 1}:.C{line + 1}])")
            rows.append(_row([float(portfolio.counted[line]), float(price)], formulas))
    return HEAD + "".join(rows) + FOOT


def _row(numbers: list[float], formulas: list[str] | None = None) -> str:
    cells = "".join(f'<table:table-cell office:value-type="float" office:value="{one!r}"/>' for one in numbers)
    cells += "".join(f'<table:table-cell table:formula="{one}"/>' for one in formulas or [])
    return f"<table:table-row>{cells}</table:table-row>"


def _recalculated(office: str, folder: Path, sheet: str) -> float:
    """Seconds to read a sheet, work it out and write its values."""
    path = folder / "quotes.fods"
    path.write_text(sheet)
    command = [office, f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--headless", "--convert-to", "csv"]
    command += ["--outdir", str(folder), str(path)]
    subprocess.run(command, check=True, capture_output=True, timeout=300)  # the first run makes the profile
    return _timed(lambda: subprocess.run(command, check=True, capture_output=True, timeout=300))


def _timed(work) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun
