"""What was quoted by earlier versions is read, priced again, worked out again and laid out as it was written.

`snapshots/` holds an estimate of each shape that quotes were kept in, made by the code of the commit that its file is
named by: two keels, and a small rail ding with learned factors and work done again where there were any. They are never
made anew; a version that changes what is kept adds its own.
"""

from __future__ import annotations

import copy
import json
from dataclasses import replace
from pathlib import Path

import pytest

from quotes.costing import (
    NO_SNAPSHOT,
    STARTING_RECIPES,
    Construction,
    Now,
    Snapshot,
    cost_risk,
    cost_tree,
    estimate,
    guessed,
    lay_out,
    look_again,
)
from quotes.costing.basis.constants import laid_over
from quotes.costing.job.reestimate import Knowledge, reestimate, reestimate_rework
from quotes.costing.money.pricing import hands_on, price_way
from quotes.costing.snapshot import SCHEMA, UnknownSchema
from quotes.costing.steps.temperature import told, windows_at
from quotes.costing.why.buildup import by_material, by_operation
from tests.sample_shop import PU, SHOP, TWIN_KEELS

FILES = sorted((Path(__file__).parent / "snapshots").glob("*.json"))
DOSE = (" g resin", " g catalyst", " g hardener", " g A ")


@pytest.fixture(params=FILES, ids=lambda path: path.stem)
def kept(request) -> dict:
    return json.loads(request.param.read_text(encoding="utf-8"))


@pytest.fixture
def old(kept) -> Snapshot:
    return Snapshot.from_json(kept)


def test_there_is_a_file_of_each_schema():
    assert {json.loads(path.read_text())["schema"] for path in FILES} == set(range(1, SCHEMA + 1))


def test_its_figures_are_those_it_was_kept_with(kept, old):
    assert (str(old.price), str(old.cost), old.minutes) == (kept["price"], kept["cost"], kept["minutes"])
    for line, row in zip(old.lines, kept["lines"], strict=True):
        assert (line.need, line.use, line.cost) == (row["need"]["value"], row["use"]["value"], row["cost"])
        assert line.expected == row.get("expected", row["use"])["value"]
        assert str(line.cost_shown) == row["cost_shown"]
    assert len(old.steps) == len(kept["steps"])


def test_it_is_brought_up_once_and_then_stays(old):
    assert Snapshot.from_json(json.loads(json.dumps(old.to_json(), allow_nan=False))) == old


def test_every_line_of_it_comes_back_with_nothing_learned_since(old):
    plain = replace(old, lines=tuple(replace(one, factor=one.factor._replace(learned=None)) for one in old.lines))
    for before, after in zip(plain.lines, reestimate(plain.lines, Knowledge()), strict=True):
        if before.trade_loss == before.loss:
            assert after.use == pytest.approx(before.use, rel=1e-12), before.name
            assert after.cost == pytest.approx(before.cost, rel=1e-12), before.name
    for one in reestimate_rework(old.again, old.lines, Knowledge()):
        assert one.cost == 0.0


def test_its_tree_its_sums_and_its_hours_are_those_it_had(old):
    tree = cost_tree(old)
    assert sum(leaf.cost for leaf in tree.leaves()) == pytest.approx(old.cost_unrounded)
    labels = [child.label for step in tree.children for line in step.children for child in line.children]
    assert ("Expected" in labels) == any(line.expected != line.use for line in old.lines)
    for rows in (by_material([old]), by_operation([old])):
        assert sum(row.cost for row in rows) == old.cost
    again = sum(one.rate * one.minutes for one in old.again)
    assert hands_on([old]) == pytest.approx(old.expected_minutes + again)
    assert price_way([old], SHOP.pricing)["cost_unrounded"] == pytest.approx(old.cost_unrounded)
    assert cost_risk([old]).cost.mean > 0
    assert guessed([old]).cost >= 0


def test_it_is_priced_again_with_the_factors_of_today(old):
    """The same measures by the recipe of today, on the same shop."""
    given = {name: one.value for name, one in old.measures.items()}
    made = estimate(STARTING_RECIPES[old.recipe], given, SHOP, board=PU, accepted_odd=given)
    assert made.problems == []
    assert made.priced.gross > 0


def test_its_steps_tell_no_dose_in_words_and_each_dose_beside_them(old):
    mixes = [mix for step in old.steps for mix in step.mixes]
    assert mixes
    for step in old.steps:
        assert not [words for words in DOSE if words in step.instruction], step.instruction
        assert not [caution for caution in step.cautions if "data sheet" in caution]
    for mix in mixes:
        warm = told(mix, 27.0)
        assert warm.for_c == (27.0 if mix.goes_off else mix.told_for_c)
        assert bool(told(mix, 5.0).withheld)


def test_its_steps_are_laid_into_days_and_looked_at_again(old):
    slots = lay_out(old.steps, hours_per_day=5)
    assert len(slots) == len(old.steps)
    waits = windows_at(old.steps, 20.0)
    assert (waits is None) != all(step.keeps_waits for step in old.steps)
    now = Now(Construction("eps", "epoxy"), 20.0, laid_over({}))
    found = look_again(old.steps, now, SHOP.materials)
    assert any("Polyester melts EPS" in refusal.text for step in found for refusal in step)
    assert not any(look_again(old.steps, now._replace(board=PU), SHOP.materials))


def test_nothing_kept_is_nothing_read():
    assert Snapshot.from_json({}) is NO_SNAPSHOT


@pytest.mark.parametrize("schema", [0, SCHEMA + 1, "2"])
def test_an_estimate_of_a_later_version_is_not_guessed_at(schema):
    now = estimate(STARTING_RECIPES["glass-on-twin"], TWIN_KEELS, SHOP, board=PU).snapshot().to_json()
    with pytest.raises(UnknownSchema, match=f"has schema {schema}; up to {SCHEMA} is known"):
        Snapshot.from_json({**copy.deepcopy(now), "schema": schema})
