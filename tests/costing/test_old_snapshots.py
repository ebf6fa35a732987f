"""What was quoted before costs were means, and before damages shared anything, is read as it was written."""

from __future__ import annotations

import copy

import pytest

from quotes.costing import STARTING_RECIPES, cost_tree, estimate, risk
from quotes.costing.job.afresh import Knowledge, afresh
from quotes.costing.money.pricing import hands_on, price_way
from tests.costing.marram import PU, SHOP, TWIN_KEELS


@pytest.fixture
def old() -> dict:
    """A snapshot of the first schema: no expected use, no sessions, cost of the middle."""
    found = copy.deepcopy(estimate(STARTING_RECIPES["glass-on-twin"], TWIN_KEELS, SHOP, board=PU).as_dict())
    found["schema"] = 1
    found.pop("expected_minutes")
    for line in found["lines"]:
        line.pop("expected")
        line["cost"] = line["use"]["value"] * line["unit_cost"]["value"]
    for step in found["steps"]:
        step.pop("session")
        step.pop("boards")
    found["cost_unrounded"] = sum(line["cost"] for line in found["lines"])
    return found


def test_every_line_of_it_comes_back(old):
    for before, after in zip(old["lines"], afresh(old["lines"], Knowledge()), strict=True):
        assert after["use"]["value"] == pytest.approx(before["use"]["value"], rel=1e-12)
        assert after["cost"] == pytest.approx(before["cost"], rel=1e-12), before["name"]


def test_its_tree_its_sum_and_its_hours_are_those_it_had(old):
    labels = [child.label for step in cost_tree(old).children for line in step.children
              for child in line.children]  # fmt: skip
    assert "Expected" not in labels
    assert hands_on([old]) == pytest.approx(old["minutes"])
    assert price_way([old], SHOP.pricing)["cost_unrounded"] == pytest.approx(old["cost_unrounded"])
    assert risk([old]).cost.mean > 0
