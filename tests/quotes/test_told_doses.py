"""What a step is told to weigh: once, apart from what to do, for the temperature at the bench."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from quotes import bench as b
from quotes.models import Step

OLD = json.loads((Path(__file__).parent / "old" / "steps_with_doses_in_words.json").read_text(encoding="utf-8"))
GRAMS = (" g resin", " g catalyst", " g hardener", " g A", "drops")


def old_step(plan) -> Step:
    return Step(operation=plan["operation"], title=plan["title"], instruction=plan["instruction"], plan=plan)


@pytest.mark.parametrize("plan", OLD, ids=lambda plan: f"{plan['operation']}-{plan['mixes'][0]['system']}")
def test_a_step_of_a_job_agreed_before_shows_its_dose_exactly_once(plan):
    assert any(word in plan["instruction"] for word in GRAMS) or plan["operation"] == "make-fin"
    words = b.instruction(old_step(plan))
    assert not [word for word in GRAMS if word in words]
    assert words[0].isupper() or words[0].isdigit()
    assert words.endswith(".")
    [shown] = b.shown_doses(old_step(plan))
    mix = plan["mixes"][0]
    amount, _ = shown.amounts[0]
    assert amount.split()[0] == f"{mix.get('part_a_g', mix['resin_g']):.0f}"


def test_what_else_an_old_instruction_says_stays():
    plan = next(plan for plan in OLD if plan["operation"] == "inject")
    assert b.instruction(old_step(plan)) == (
        "4 holes of 3 mm, one at each end left to vent. Film, pad and weight for 30 h. Large lenses of resin crack "
        "later: tell the owner. Mind the stringer."
    )


def test_an_old_caution_leaves_the_data_sheet_to_the_foot_of_the_list():
    plan = next(plan for plan in OLD if plan["mixes"][0]["system"] == "polyester")
    assert any("data sheet" in text for text in plan["cautions"])
    assert not any("data sheet" in text for text in b.cautions(old_step(plan)))


def test_a_new_plan_keeps_doses_out_of_its_words(job):
    steps = [step for step in job.steps.all() if step.plan["mixes"]]
    assert steps
    for step in steps:
        assert b.instruction(step) == step.instruction
        assert not [word for word in GRAMS if word in step.instruction]
        assert all("told_for_c" in mix for mix in step.plan["mixes"])
