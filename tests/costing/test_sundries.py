"""What steps plan over a job and its sundries is what the cost counted: every recipe and choice, alone and together.

Pure arithmetic: sums of one list against sums of another, no figure of the trade.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import replace
from itertools import combinations, product

import pytest

from quotes.costing import STARTING_RECIPES, CoreDamage, UsageFactor, estimate, estimate_board
from quotes.costing.job.sundries import SUNDRIES, lift_sundries, taken_part
from tests.sample_shop import EPS, PU, SHOP, sizes_for

DING = STARTING_RECIPES["ding-deck-small"]
YES_OR_NO = (0.0, 1.0)


def board_for(recipe):
    """A board on which a recipe has no problem."""
    return next(b for b in (PU, EPS) if not estimate(recipe, sizes_for(recipe), SHOP, board=b).problems)


KEYS = sorted(STARTING_RECIPES)


def choices_of(recipe):
    """Its measures with every yes and no of the steps that hang on one."""
    asked = sorted({act.when for act in recipe.acts if act.when})
    sizes = sizes_for(recipe)
    for said in product(YES_OR_NO, repeat=len(asked)):
        yield {**sizes, **dict(zip(asked, said, strict=True))}


def told(made):
    """The steps of an estimate as `lift_sundries` takes them."""
    return [(7, plan) for plan in made.planned_steps]


def told_of_board(made):
    """The steps of a board, the repairs by number."""
    plans = made.planned_steps([damage.name for damage in made.damages])
    return [(None, replace(plan, serves=tuple(one._replace(part=one.damage) for one in plan.serves))) for plan in plans]


def planned(plans):
    """What plans plan, by material, over all and by repair; and their minutes."""
    sums, each, minutes = defaultdict(float), defaultdict(float), 0.0
    for plan in plans:
        minutes += plan.minutes
        for line in plan.materials:
            sums[line.material] += line.planned
        for repair, own in plan.own(7):
            for line in own.materials:
                each[repair, line.material] += line.planned
    return dict(sums), dict(each), minutes


def counted(parts):
    """What the cost counted, the same way."""
    sums, each, minutes = defaultdict(float), defaultdict(float), 0.0
    for repair, part in parts:
        for line in part.lines:
            if line.kind == "labour":
                minutes += line.use
            elif line.supply.material:
                sums[line.supply.material] += line.use
                each[repair, line.supply.material] += line.use
    return dict(sums), dict(each), minutes


def check(plans, parts):
    """Nothing is lost and nothing is planned twice; what is shared stands on the line alone."""
    left, line = lift_sundries(plans)
    assert line is not None
    for found, wanted in zip(planned([*left, line]), counted(parts), strict=True):
        assert found == pytest.approx(wanted)
    for plan, (_, before) in zip(left, plans, strict=True):
        assert [one.material for one in plan.materials] == [one.material for one in before.materials]
        assert not any(one.planned for one in plan.materials if one.sundry)
    assert all(one.sundry for _, own in line.own(None) for one in own.materials)
    assert (line.operation, line.minutes, line.mixes) == (SUNDRIES, 0.0, ())
    shared = {x.supply.material for _, part in parts for x in part.lines if x.kind == "consumable" and x.sundry}
    assert {one.material for one in line.materials} == shared


@pytest.mark.parametrize("key", KEYS)
def test_steps_and_sundries_plan_what_the_cost_of_one_repair_counted(key):
    recipe = STARTING_RECIPES[key]
    for sizes in choices_of(recipe):
        made = estimate(recipe, sizes, SHOP, board=board_for(recipe))
        assert not made.problems
        check(told(made), [(7, made)])


@pytest.mark.parametrize("key", KEYS)
def test_and_of_boards_of_two_and_three_repairs_whatever_is_left_out_of_them(key):
    recipe = STARTING_RECIPES[key]
    board, sizes = board_for(recipe), sizes_for(recipe)
    damages = [
        CoreDamage("a", "A", recipe, sizes),
        CoreDamage("b", "B", recipe, sizes),
        CoreDamage("c", "C", DING, sizes_for(DING)),
    ]
    for many in (2, 3):
        for wanted in combinations(damages, many):
            made = estimate_board(list(wanted), SHOP, board=board, choices=False)
            assert not made.problems
            check(told_of_board(made), list(enumerate(made.parts)))


def test_what_is_put_in_stays_at_its_step_and_a_sundry_that_is_exact_is_shared_all_the_same():
    """A plug is counted, and so are gloves where the shop says: one pair, never more."""
    factor = UsageFactor(1.0, 1.0, 1.0, "counted")
    sure = replace(SHOP, factors={(op, "gloves"): factor for op in ("install", "laminate", "hot-coat", "pour-resin")})
    recipe = STARTING_RECIPES["leash-plug"]
    left, line = lift_sundries(told(estimate(recipe, sizes_for(recipe), sure)))
    [plug] = [one for plan in left for one in plan.materials if one.material == "leash-plug"]
    assert plug.planned == 1
    [gloves] = [one for one in line.materials if one.material == "gloves"]
    assert gloves.planned > 0
    assert gloves.made_of is None


def test_steps_of_before_there_was_a_mark_keep_what_they_plan():
    made = estimate(DING, sizes_for(DING), SHOP)
    old = [
        replace(plan, materials=tuple(one._replace(sundry=False) for one in plan.materials))
        for plan in made.planned_steps
    ]
    assert lift_sundries([(7, plan) for plan in old]) == (old, None)


def test_the_part_of_the_sundries_that_some_steps_take_goes_by_their_need():
    made = estimate(DING, sizes_for(DING), SHOP)
    plans, line = lift_sundries(told(made))
    assert set(taken_part(line, [(7, plan, True) for plan in plans]).values()) == {1.0}
    assert set(taken_part(line, [(7, plan, False) for plan in plans]).values()) == {0.0}
    for key in ("gloves", "cup"):
        needs = [math.fsum(one.need for one in plan.materials if one.material == key and one.sundry) for plan in plans]
        at = next(at for at, need in enumerate(needs) if need)
        part = taken_part(line, [(7, plan, number <= at) for number, plan in enumerate(plans)])[key]
        assert part == pytest.approx(needs[at] / math.fsum(needs))
        assert 0 < part < 1
