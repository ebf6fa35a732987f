"""`manage.py promise --bench`: one state, a folder of them, and sentences for what is wrong."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from tests.planner.samples import sample


def asked(*words: str) -> str:
    out = StringIO()
    call_command("promise", *words, stdout=out)
    return out.getvalue()


def test_a_state_is_answered_with_days_chances_and_the_plan_of_today(tmp_path):
    file = tmp_path / "100-16.json"
    file.write_text(json.dumps(sample("100-16")))
    told = json.loads(asked("--bench", str(file), "--json"))
    assert list(told) == ["ask", "jobs", "today"]
    (day,) = told["ask"]
    assert list(day) == ["job", "q50", "q80", "q90", "chance"]
    assert day["job"] == "16"
    assert "2024-01-25" < day["q50"] <= day["q80"] <= day["q90"]
    assert [one["job"] for one in told["jobs"]] == [one["job"] for one in sample("100-16")["jobs"]]
    assert all(list(one) == ["person", "from", "job", "step"] for one in told["today"])
    assert told["today"][0] == {"person": "p0", "from": "10:52", "job": "10", "step": "0"}


def test_a_folder_is_answered_by_file_name(tmp_path):
    for name in ("100-16", "102-32"):
        (tmp_path / f"{name}.json").write_text(json.dumps(sample(name)))
    told = json.loads(asked("--bench", str(tmp_path), "--draws", "5", "--json"))
    assert list(told) == ["100-16", "102-32"]
    assert "job 32" in asked("--bench", str(tmp_path), "--draws", "5")


def test_what_is_wrong_is_said_in_a_sentence(tmp_path):
    bad = sample("100-16")
    bad["jobs"][0]["steps"][0]["minutes"] = None
    file = tmp_path / "bad.json"
    file.write_text(json.dumps(bad))
    with pytest.raises(CommandError, match=r"bad\.json: Job “8”, step “0” has no minutes"):
        asked("--bench", str(file), "--json")
    file.write_text("{")
    with pytest.raises(CommandError, match=r"bad\.json: It is no JSON"):
        asked("--bench", str(file))
    with pytest.raises(CommandError, match="can not be read"):
        asked("--bench", str(tmp_path / "none.json"))
    empty = tmp_path / "empty"
    empty.mkdir()
    with pytest.raises(CommandError, match="There is no state"):
        asked("--bench", str(empty))
    file.write_text(json.dumps(sample("100-16")))
    with pytest.raises(CommandError, match="At least one future"):
        asked("--bench", str(file), "--draws", "0")


def test_a_promise_that_is_past_is_said(tmp_path):
    late = sample("100-16")
    late["jobs"][0]["promised"] = "2024-01-20"
    file = tmp_path / "late.json"
    file.write_text(json.dumps(late))
    told = json.loads(asked("--bench", str(file), "--draws", "5", "--json"))
    assert told["cautions"] == ["Job “8” is promised for 2024-01-20, which is past."]
