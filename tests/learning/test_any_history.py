"""Whatever a history holds that can be read, its answer has every figure, finite and in order."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from quotes.costing.learning.doubts import doubts
from quotes.costing.learning.files.csv_rows import COLUMNS
from quotes.costing.learning.files.interchange import UNITS, read_all
from quotes.costing.learning.forecast import forecast
from quotes.costing.learning.model.fit import fit

QUANTILES = ("q05", "q10", "q25", "q50", "q75", "q90", "q95")


def drawn(seed: int) -> dict[str, str]:
    """A history nobody would keep: any units, ranges from none to a hundredfold, amounts over six decades, slips."""
    rng = np.random.default_rng(seed)

    def one(*values: object) -> object:
        return values[rng.integers(len(values))]

    def amount() -> float:
        return float(10.0 ** rng.uniform(-3, 3))

    def around(middle: float) -> list[float]:
        return [middle, middle / float(one(1, 1.01, 1.5, 10)), middle * float(one(1, 1.01, 1.5, 10))]

    rows: dict[str, list[list[object]]] = {file: [list(columns)] for file, columns in COLUMNS.items()}
    rows["ask.csv"] = [list(COLUMNS["terms.csv"])]
    names = [f"material {number}" for number in range(int(rng.integers(1, 5)))]
    for name in names:
        loss = around(amount()) if rng.random() < 0.5 else ["", "", ""]
        rows["materials.csv"].append(
            [
                name,
                one(*UNITS),
                one(0, amount()),
                "",
                *loss,
                one("", 0, amount() / 10),
                one("", 0, amount()),
                one("", amount()),
            ]
        )
    steps = [(f"step {number}", name) for number in range(3) for name in [*names, "minutes"] if rng.random() < 0.7]
    middles = {step: float(10.0 ** rng.uniform(-1, 1)) for step in steps}
    rows["factors.csv"] += [[*step, *around(middle)] for step, middle in middles.items()]
    day = 0.0
    for job in range(int(rng.integers(0, 12))):
        day += float(one(0, rng.uniform(0, 5)))
        for step in steps:
            if rng.random() < 0.6:
                need = one(amount(), float(rng.integers(1, 9)))
                rows["terms.csv"].append(
                    [job, step[0], day, one("", "A", "B"), step[1], need, one("", 0, 1, 0.4, 30), one("", "x", "y")]
                )
                value = float(need) * middles[step] * 10.0 ** rng.normal(0, float(one(0.1, 0.1, 2)))
                if 1e-8 < value < 1e8 and rng.random() < 0.6:
                    rows["logs.csv"].append([job, *step, value, one("", 0, 1, 2.5)])
    for name in names:
        shelf = amount() * 10
        for number in range(int(rng.integers(0, 6))):
            rows["counts.csv"].append([number * 3, name, shelf])
            shelf *= float(one(0, rng.uniform(0, 1), rng.uniform(0, 1)))
    for number in range(int(rng.integers(0, 6))):
        rows["hours.csv"].append([number * 7, number * 7 + 6, one("", "A"), amount()])
    for job in ("a", "b"):
        rows["ask.csv"] += [
            [job, step[0], day, one("", "A", "Z"), step[1], one(amount(), 1, 2), one("", 0, 1, 7), one("", "x", "q")]
            for step in steps
        ]
    return {file: "\n".join(",".join(map(str, row)) for row in found) + "\n" for file, found in rows.items()}


@pytest.mark.parametrize("seed", range(100, 160))
@pytest.mark.filterwarnings("error")
def test_any_history_is_answered_with_every_figure_in_order(seed):
    texts = drawn(seed)
    history, asked = read_all(texts, texts.pop("ask.csv"))
    fitted = fit(history)
    for job in ("a", "b"):
        terms = [term for term in asked if term.job == job]
        found = forecast(fitted.state, history.trade, terms, 45.0).as_dict()
        for figure in ("material_cost", "minutes", "total"):
            law = [found[figure][name] for name in QUANTILES]
            assert all(math.isfinite(value) and value >= 0 for value in [found[figure]["mean"], *law])
            assert law == sorted(law)
            assert found[figure]["mean"] <= 20 * found[figure]["q50"], "so wide is no figure a price could stand on"
    said = json.dumps([doubt.as_dict() for doubt in doubts(fitted, history.trade)], allow_nan=False)
    assert "nan" not in said.lower().replace("material", "")
