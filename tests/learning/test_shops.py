"""The six sample shops, scored against what their asked jobs really took.

The figures beside ours are those printed with the shops: mean absolute error of the median in per cent, material cost
and minutes, of the trade defaults, of the model as first tried, and of one who knows every true factor of the shop.
"""

from __future__ import annotations

import csv
import json
import sys
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

SHOPS = Path(__file__).parent / "shops"
PRINTED = {  # shop: trade, first tried, knowing
    1: ((6.4, 12.3), (6.1, 12.0), (5.0, 11.7)),
    2: ((4.6, 14.9), (5.7, 11.0), (4.8, 10.9)),
    3: ((7.3, 9.2), (5.8, 9.2), (5.6, 9.6)),
    4: ((11.4, 12.0), (6.1, 8.1), (6.1, 8.7)),
    5: ((7.8, 15.1), (5.8, 15.1), (5.5, 13.1)),
    6: ((8.8, 17.0), (5.8, 8.8), (5.0, 9.0)),
}


def backtest(folder: Path, **options: object) -> dict:
    out = StringIO()
    call_command("backtest", history=folder, ask=folder / "ask.csv", json=True, stdout=out, **options)
    return json.loads(out.getvalue())


def rows(folder: Path, file: str) -> list[dict[str, str]]:
    with (folder / file).open(encoding="utf-8") as text:
        return list(csv.DictReader(text))


@pytest.fixture(scope="module")
def answers() -> dict[int, dict]:
    return {shop: backtest(SHOPS / f"shop-{shop}") for shop in PRINTED}


def errors(shop: int, answer: dict) -> tuple[float, float]:
    """Mean absolute error of the median, per cent: material cost, minutes."""
    truth = {row["job"]: row for row in rows(SHOPS / f"shop-{shop}", "truth.csv")}
    assert [job["job"] for job in answer["jobs"]] == list(truth)
    found = [
        sum(abs(job[figure]["q50"] / float(truth[job["job"]][figure]) - 1) for job in answer["jobs"])
        for figure in ("material_cost", "minutes")
    ]
    return 100 * found[0] / len(truth), 100 * found[1] / len(truth)


def test_the_six_shops_are_foretold_nearly_as_well_as_by_one_who_knows_every_true_factor(answers, capsys):
    ours = {shop: errors(shop, answer) for shop, answer in answers.items()}
    table = ["", "shop       trade    first tried      knowing         ours"]
    for shop, printed in PRINTED.items():
        columns = (f"{material:>8.1f} / {minutes:<4.1f}" for material, minutes in (*printed, ours[shop]))
        table.append(f"{shop:>4}{''.join(columns)}")
    with capsys.disabled():
        sys.stdout.write("\n".join(table) + "\n")
    over = [sum(ours[shop][figure] / PRINTED[shop][2][figure] for shop in PRINTED) / len(PRINTED) for figure in (0, 1)]
    assert over[0] <= 1.11
    assert over[1] <= 1.01


def test_flags_on_the_six_shops_are_right(answers):
    right = flags = 0
    for shop, answer in answers.items():
        wrong = {tuple(row.values()) for row in rows(SHOPS / f"shop-{shop}", "wrong.csv")}
        flagged = {(one["job"], one["operation"], one["material"]) for one in answer["doubtful"]}
        assert all(one["explanation"] for one in answer["doubtful"])
        right, flags = right + len(flagged & wrong), flags + len(flagged)
    assert flags > 40
    assert right / flags >= 0.95


def test_an_answer_has_every_figure_in_order(answers):
    for answer in answers.values():
        for job in answer["jobs"]:
            for figure in ("material_cost", "minutes", "total"):
                law = job[figure]
                assert list(law) == ["mean", "q05", "q10", "q25", "q50", "q75", "q90", "q95"]
                assert sorted(law[name] for name in list(law)[1:]) == [law[name] for name in list(law)[1:]]


def test_the_total_is_material_and_minutes_at_the_hourly_rate(answers):
    for hourly, answer in ((45.0, answers[1]), (60.0, backtest(SHOPS / "shop-1", hourly=60.0))):
        for job in answer["jobs"]:
            by_hand = job["material_cost"]["mean"] + job["minutes"]["mean"] * hourly / 60
            assert job["total"]["mean"] == pytest.approx(by_hand, rel=1e-9)


def test_the_same_question_gives_the_same_answer(answers):
    assert backtest(SHOPS / "shop-2") == answers[2]


def test_without_json_each_job_is_a_line_for_the_eye():
    out = StringIO()
    call_command("backtest", history=SHOPS / "shop-1", stdout=out)
    lines = out.getvalue().splitlines()
    assert lines[0] == "learnt from 22 jobs; median and 80 % range"
    assert lines[1].startswith("job 21: material ")


def test_a_folder_without_history_is_refused_in_a_sentence(tmp_path):
    with pytest.raises(CommandError, match=r"elsewhere is no folder; --history takes the one with the CSV files"):
        call_command("backtest", history=tmp_path / "elsewhere", ask=SHOPS / "shop-1" / "ask.csv", json=True)
    with pytest.raises(CommandError, match=r"ask\.csv is missing; it says which jobs to foretell"):
        call_command("backtest", history=tmp_path, json=True)
    (tmp_path / "ask.csv").write_text("job,operation,day,worker,material,need,mixes,brand\n")
    with pytest.raises(CommandError, match=r"materials\.csv is missing; the history needs it"):
        call_command("backtest", history=tmp_path, json=True)


def test_of_thousands_of_problems_the_first_are_told_and_how_many_there_are(tmp_path):
    for file in (SHOPS / "shop-1").iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    rows = "".join(f"{job},weld,1,A,resin_lam,5,1,1\n" for job in range(2000))
    (tmp_path / "ask.csv").write_text("job,operation,day,worker,material,need,mixes,brand\n" + rows)
    said = StringIO()
    with pytest.raises(CommandError) as refused:
        call_command("backtest", history=tmp_path, json=True, stdout=said)
    first, *_, last = str(refused.value).splitlines()
    assert first == "ask.csv, line 2, operation: “weld” is not in factors.csv."
    assert last == "and 1960 more like these."
    assert said.getvalue() == ""


def test_a_file_that_is_no_utf_8_is_refused_with_its_line(tmp_path):
    for file in (SHOPS / "shop-3").iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    (tmp_path / "logs.csv").write_bytes(b"job,operation,material,value,mixes\n1,lam,r\xe9sin,3,1\n")
    with pytest.raises(CommandError, match=r"logs\.csv, line 2: is not UTF-8 text"):
        call_command("backtest", history=tmp_path, json=True)


def test_an_hour_that_is_no_amount_is_refused():
    with pytest.raises(CommandError, match="--hourly must be an amount of no less than 0; nan is not"):
        call_command("backtest", history=SHOPS / "shop-1", hourly=float("nan"), json=True)
