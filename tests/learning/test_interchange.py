"""The CSV form for interchange: read back to the last digit, and refused in a sentence with file, line and field."""

from __future__ import annotations

from dataclasses import replace

import pytest

from quotes.costing.learning.files.csv_rows import COLUMNS, Unreadable
from quotes.costing.learning.files.export import write_history, write_terms
from quotes.costing.learning.files.interchange import read_all
from quotes.costing.learning.history import History
from quotes.costing.learning.model.fit import fit
from tests.learning.simulator import Plan, make

GOOD = {
    "materials.csv": (
        "material,unit,price,group,loss_mid,loss_lo,loss_hi,log_step,count_step,max_batch\n"
        "resin,g,0.022,resin,22,12,40,1,10,350\n"
        "disc,each,0.9,abrasive,,,,1,1,\n"
    ),
    "factors.csv": "operation,material,mid,lo,hi\nlam,resin,1.5,1.2,2.0\nlam,minutes,1.15,0.8,1.7\nsand,disc,1.2,0.7,2\n",
    "terms.csv": (
        "job,operation,day,worker,material,need,mixes,brand\n"
        "1,lam,0.5,A,resin,60,1,1\n1,lam,0.5,A,minutes,12,0,1\n1,sand,2.5,A,disc,0.3,0,1\n"
    ),
    "logs.csv": "job,operation,material,value,mixes\n1,lam,resin,104,1\n1,lam,minutes,15,0\n",
    "receipts.csv": "day,material,qty\n3,resin,5000\n",
    "counts.csv": "day,material,qty\n0,resin,1000\n14,resin,5890\n",
}


def read_history(texts: dict[str, str]) -> History:
    """A history with no job asked about."""
    return read_all(texts, write_terms([]))[0]


def problems(**changed: str) -> tuple[str, ...]:
    """What is said when files are changed: name of file without ending = new text."""
    texts = {**GOOD, **{f"{name}.csv": text for name, text in changed.items()}}
    with pytest.raises(Unreadable) as refused:
        read_history(texts)
    return refused.value.problems


def line(file: str, number: int, new: str) -> dict[str, str]:
    """A file with one of its lines replaced."""
    rows = GOOD[f"{file}.csv"].splitlines()
    rows[number - 1] = new
    return {file: "\n".join(rows) + "\n"}


def test_a_good_history_is_read():
    history = read_history(GOOD)
    assert history.logs[0] == ("1", "lam", "resin", 104.0, 1.0, False)
    assert history.trade.materials["resin"].loss == (22.0, 12.0, 40.0)
    assert history.trade.materials["disc"].loss is None
    assert history.hours == ()


def test_what_is_written_is_read_back_to_the_last_digit():
    shop = make(9, Plan(jobs=15, logged=0.5, hours_every=7.0))
    texts = write_history(shop.history)
    terms = [term for terms in shop.asked.values() for term in terms]
    again, asked = read_all(texts, write_terms(terms))
    assert again.terms == shop.history.terms
    assert sorted(again.logs) == sorted(shop.history.logs)
    assert sorted(again.counts) == sorted(shop.history.counts)
    assert again.hours == tuple(sorted(shop.history.hours))
    assert again.trade == shop.history.trade
    assert asked == terms
    assert write_history(again) == texts


def test_two_steps_that_are_alike_to_the_last_digit_are_written_as_one():
    history = read_history(GOOD)
    resin, minutes, disc = history.terms
    again = read_history(write_history(replace(history, terms=(resin, resin, minutes, disc))))
    assert again.terms == (resin._replace(need=120.0, mixes=2.0), minutes, disc)


def test_steps_may_stand_in_any_order_of_days():
    shop = make(9, Plan(jobs=15, logged=0.5))
    texts = write_history(shop.history)
    header, *rows = texts["terms.csv"].splitlines()
    backwards = read_history({**texts, "terms.csv": "\n".join([header, *reversed(rows)])})
    days = {}
    for term in backwards.terms:
        days[term.job] = min(term.day, days.get(term.job, term.day))
    assert list(days.values()) == sorted(days.values())
    assert list(days) == list(dict.fromkeys(term.job for term in shop.history.terms))
    assert sorted(backwards.terms) == sorted(shop.history.terms)
    one, other = fit(backwards).state, fit(shop.history).state
    assert dict(zip(one.layout.entries, one.x, strict=True)) == pytest.approx(
        dict(zip(other.layout.entries, other.x, strict=True)), rel=1e-6, abs=1e-9
    )


def test_a_byte_order_mark_and_blank_lines_do_no_harm():
    texts = {name: "\ufeff" + text.replace("\n", "\r\n") + "\r\n\r\n" for name, text in GOOD.items()}
    assert read_history(texts) == read_history(GOOD)


def test_lines_that_a_spreadsheet_padded_with_empty_fields_do_no_harm():
    header, *rows = GOOD["logs.csv"].splitlines()
    padded = "\n".join([header, *(row + ",," for row in rows)])
    assert read_history({**GOOD, "logs.csv": padded}) == read_history(GOOD)


def test_days_may_be_counted_from_anywhere():
    later = GOOD["terms.csv"].replace(",0.5,", ",739000.5,").replace(",2.5,", ",739002.5,")
    assert [term.day for term in read_history({**GOOD, "terms.csv": later}).terms] == [739000.5, 739000.5, 739002.5]


def test_a_question_is_answered_in_its_own_order():
    header = GOOD["terms.csv"].splitlines()[0]
    ask = f"{header}\nlate,lam,9,A,resin,60,1,1\nearly,lam,3,A,resin,60,1,1\nlate,sand,10,A,disc,0.4,0,1\n"
    assert [term.job for term in read_all(GOOD, ask)[1]] == ["late", "early", "late"]


@pytest.mark.parametrize(("need", "planned"), [("60", 1.0), ("234", 2.0), ("700", 3.0)])
def test_mixes_left_empty_are_planned_by_the_largest_batch(need, planned):
    """1.5 × the need in mixes of at most 350 g, at least one; what is not mixed has none."""
    history = read_history({**GOOD, "terms.csv": GOOD["terms.csv"].replace("resin,60,1,", f"resin,{need},,")})
    assert [term.mixes for term in history.terms] == [planned, 0.0, 0.0]
    none = read_history({**GOOD, "terms.csv": GOOD["terms.csv"].replace("minutes,12,0,", "minutes,12,,")})
    assert none == read_history(GOOD)


def test_a_log_for_each_mix_teaches_as_one_log_of_all():
    """Two mixes of equal weight are no slip where two were planned."""
    two = {**GOOD, "terms.csv": GOOD["terms.csv"].replace("resin,60,1,", "resin,120,2,")}
    header = GOOD["logs.csv"].splitlines()[0]
    apart = read_history({**two, "logs.csv": f"{header}\n1,lam,resin,104,1\n1,lam,resin,104,1\n"})
    as_one = read_history({**two, "logs.csv": f"{header}\n1,lam,resin,208,2\n"})
    assert len(apart.logs) == 2
    assert fit(apart).state.x == pytest.approx(fit(as_one).state.x, abs=1e-4)
    unequal = read_history({**GOOD, "logs.csv": f"{header}\n1,lam,resin,104,1\n1,lam,resin,40,1\n"})
    assert [log.value for log in unequal.logs] == [104.0, 40.0]
    timed = f"{header}\n1,lam,resin,104,1\n1,lam,resin,40,1\n1,lam,minutes,15,0\n1,lam,minutes,15,0\n"
    assert len(read_history({**GOOD, "logs.csv": timed}).logs) == 4, "logs stand apart here: two sittings of 15 minutes"
    assert "stands in line 4 already" in problems(logs=f"{timed}1,lam,minutes,15,0\n")[0]


def hours(*rows: str) -> list[tuple[float, float]]:
    """From and to which moment totals of hours reach."""
    text = "\n".join(["from_day,to_day,worker,minutes", *rows])
    return [(found.from_day, found.to_day) for found in read_history({**GOOD, "hours.csv": text}).hours]


def test_whole_days_reach_to_the_end_of_the_last():
    assert hours("0,6,A,900", "7,13,A,800") == [pytest.approx((0, 7), abs=1e-4), pytest.approx((7, 14), abs=1e-4)]
    assert hours("5,5,A,90") == [pytest.approx((5, 6), abs=1e-4)]
    assert hours("0.25,6.5,A,900") == [(0.25, 6.5)]


def test_a_step_at_the_moment_two_totals_meet_belongs_to_the_first_alone():
    (_, first), (second, last) = hours("0,7,A,900", "7,14,A,800")
    assert first == 7.0 < second < 7.001
    assert last == 14.0


def test_a_total_without_a_worker_is_that_of_all():
    terms = GOOD["terms.csv"] + "2,lam,1.5,B,minutes,20,0,1\n"
    text = "from_day,to_day,worker,minutes\n0,6,,60\n"
    whole = fit(read_history({**GOOD, "terms.csv": terms, "hours.csv": text}))
    assert whole.spans.line[whole.spans.span == len(whole.spans.used) - 1].size == 2


def test_a_careless_count_is_no_contradiction():
    """1040 of 1000 is an eye that is 3 % off at both ends; 1200 is a delivery nobody wrote down."""
    text = "day,material,qty\n4,resin,1000\n14,resin,{}\n"
    assert len(read_history({**GOOD, "counts.csv": text.format(1150)}).counts) == 2
    assert "a delivery is missing" in problems(counts=text.format(1200))[0]
    boxes = "day,material,qty\n0,disc,3\n14,disc,5\n"
    assert "a delivery is missing" in problems(counts=boxes)[0]


def test_what_came_in_on_the_day_of_a_count_may_have_come_after_it():
    text = "day,material,qty\n3,resin,1000\n14,resin,5900\n"
    assert len(read_history({**GOOD, "counts.csv": text}).counts) == 2


@pytest.mark.parametrize("file", [name for name in COLUMNS if name != "hours.csv"])
def test_a_missing_file_is_named(file):
    texts = {name: text for name, text in GOOD.items() if name != file}
    with pytest.raises(Unreadable, match=f"^{file} is missing; the history needs it"):
        read_history(texts)


BAD = [
    (line("terms", 2, "1,weld,0.5,A,resin,60,1,1"), "terms.csv, line 2, operation: “weld” is not in factors.csv."),
    (line("terms", 2, "1,lam,0.5,A,glue,60,1,1"), "terms.csv, line 2, material: “glue” is not in materials.csv."),
    (
        line("terms", 2, "1,lam,0.5,A,disc,60,1,1"),
        "terms.csv, line 2, material: factors.csv has no factor for lam with",
    ),
    (line("terms", 2, "1,lam,0.5,A,resin,-3,1,1"), "terms.csv, line 2, need: must be above 0; -3 is not."),
    (line("terms", 2, "1,lam,0.5,A,resin,0,1,1"), "terms.csv, line 2, need: must be above 0; 0 is not."),
    (line("terms", 2, "1,lam,0.5,A,resin,NaN,1,1"), "terms.csv, line 2, need: “NaN” is no finite number."),
    (line("terms", 2, "1,lam,0.5,A,resin,inf,1,1"), "terms.csv, line 2, need: “inf” is no finite number."),
    (line("terms", 2, "1,lam,0.5,A,resin,1000000000,1,1"), "terms.csv, line 2, need: must be no more than 10 000 000;"),
    (line("terms", 2, '1,lam,0.5,A,resin,"1,5",1,1'), "terms.csv, line 2, need: “1,5” is no number;"),
    (line("terms", 2, "1,lam,soon,A,resin,60,1,1"), "terms.csv, line 2, day: “soon” is no number;"),
    (line("terms", 2, ",lam,0.5,A,resin,60,1,1"), "terms.csv, line 2, job: is empty; it must be filled in."),
    (
        line("terms", 2, "1,lam,0.5,A,resin,60,1"),
        "terms.csv, line 2, brand: the line has 7 fields; the header row has 8.",
    ),
    (
        line("terms", 1, "job,operation,day,worker,material,mixes,brand"),
        "terms.csv, line 1, need: the header row must name",
    ),
    (line("terms", 2, "1,lam,0.5,A,resin,1e-300,1,1"), "terms.csv, line 2, need: 1e-300 is too small to be meant;"),
    (
        line("factors", 2, "lam,resin,1.5,1e-6,1e6"),
        "factors.csv, line 2, hi: must be no more than 1000 times lo; 1e+06 over 1e-06 is.",
    ),
    (
        line("materials", 2, "resin,g,0.022,resin,22,1e-6,40,1,10,350"),
        "materials.csv, line 2, loss_hi: must be no more than 1000 times loss_lo; 40 over 1e-06 is.",
    ),
    (
        line("logs", 1, "job,operation,material,value,mixes,value"),
        "logs.csv, line 1, value: stands twice in the header row; it must stand there once.",
    ),
    (line("logs", 2, "9,lam,resin,104,1"), "logs.csv, line 2, job: there is no job “9” in terms.csv."),
    (line("logs", 2, "1,weld,resin,104,1"), "logs.csv, line 2, operation: job 1 has no “weld” in terms.csv."),
    (line("logs", 2, "1,lam,disc,104,1"), "logs.csv, line 2, material: lam of job 1 needs no “disc” in terms.csv."),
    (line("logs", 2, "1,lam,resin,0,1"), "logs.csv, line 2, value: must be above 0; 0 is not."),
    (line("logs", 2, "1,lam,resin,1e9,1"), "logs.csv, line 2, value: must be no more than 100 000 000; 1e9 is."),
    (line("logs", 2, "1,lam,resin,104,-1"), "logs.csv, line 2, mixes: must be no less than 0; -1 is not."),
    (line("receipts", 2, "3,glue,5000"), "receipts.csv, line 2, material: “glue” is not in materials.csv."),
    (line("receipts", 2, "3,resin,-5000"), "receipts.csv, line 2, qty: must be above 0; -5000 is not."),
    (line("counts", 3, "14,resin,-1"), "counts.csv, line 3, qty: must be no less than 0; -1 is not."),
    (
        line("counts", 3, "-2,resin,900"),
        "counts.csv, line 3, day: must be no less than 0; -2 is not.",
    ),
    (
        line("counts", 3, "0,resin,900"),
        "counts.csv, line 3, day: day 0 does not come after day 0; days must go forward.",
    ),
    (
        {"logs": GOOD["logs.csv"] + "1,lam,resin,104,1\n"},
        "logs.csv, line 4, value: all of this stands in line 2 already;",
    ),
    (
        {"terms": GOOD["terms.csv"] + "1,lam,0.5,A,minutes,12,0,1\n"},
        "terms.csv, line 5, job: all of this stands in line 3 already;",
    ),
    (line("terms", 2, "1,lam,0.5,A,resin,6_0,1,1"), "terms.csv, line 2, need: “6_0” is no number;"),
    (line("terms", 2, "1,lam,-0.5,A,resin,60,1,1"), "terms.csv, line 2, day: must be no less than 0; -0.5 is not."),
    (
        line("terms", 2, "1,lam,1000001,A,resin,60,1,1"),
        "terms.csv, line 2, day: must be no more than 1 000 000; 1000001 is.",
    ),
    (line("receipts", 2, "-1,resin,50"), "receipts.csv, line 2, day: must be no less than 0; -1 is not."),
    (
        {"hours": "from_day,to_day,worker,minutes\n1,1e9,A,60\n"},
        "hours.csv, line 2, to_day: must be no more than 1 000 000;",
    ),
    (
        line("counts", 3, "14,resin,9000"),
        "counts.csv, line 3, qty: 9000 g of resin on day 14 is more than the 1000 of day 0",
    ),
    (line("factors", 2, "lam,resin,1.5,1.6,2.0"), "factors.csv, line 2, mid: must lie between lo and hi;"),
    (line("factors", 2, "lam,glue,1.5,1.2,2.0"), "factors.csv, line 2, material: “glue” is not in materials.csv."),
    (line("factors", 4, "lam,resin,1.2,0.7,2"), "factors.csv, line 4, operation: lam with resin stands here twice."),
    (line("materials", 2, "resin,kg,0.022,resin,22,12,40,1,10,350"), "materials.csv, line 2, unit: “kg” is no unit;"),
    (
        line("materials", 2, "resin,g,-1,resin,22,12,40,1,10,350"),
        "materials.csv, line 2, price: must be no less than 0;",
    ),
    (line("materials", 3, "resin,g,1,resin,,,,1,1,"), "materials.csv, line 3, material: “resin” stands here twice."),
    (line("materials", 3, "minutes,g,1,resin,,,,1,1,"), "materials.csv, line 3, material: “minutes” is labour;"),
    (line("materials", 2, "resin,g,0.022,resin,22,,40,1,10,350"), "materials.csv, line 2, loss_lo: “” is no number;"),
    (
        {"receipts": "day,material,qty\n3,resin,500\n2,resin,500\n"},
        "receipts.csv, line 3, day: day 2 comes after day 3;",
    ),
    (
        {"hours": "from_day,to_day,worker,minutes\n7,1,A,600\n"},
        "hours.csv, line 2, to_day: day 1 comes before from_day 7.",
    ),
    (
        {"hours": "from_day,to_day,worker,minutes\n1,7,A,600\n5,9,A,60\n"},
        "hours.csv, line 3, from_day: day 5 lies within",
    ),
    (
        {"hours": "from_day,to_day,worker,minutes\n5,5,A,60\n5,5,A,60\n"},
        "hours.csv, line 3, from_day: day 5 lies within the total of this worker up to day 5;",
    ),
    ({"hours": "from_day,to_day,worker,minutes\n1,7,A,0\n"}, "hours.csv, line 2, minutes: must be above 0; 0 is not."),
    ({"logs": 'job,operation,material,value,mixes\n1,"lam,resin,104,1\n'}, "logs.csv, line 2: is no CSV"),
    ({"counts": ""}, "counts.csv, line 1, day: the header row must name day, material, qty."),
]


@pytest.mark.parametrize(("changed", "sentence"), BAD, ids=[sentence[:60] for _, sentence in BAD])
def test_bad_input_is_refused_with_file_line_and_field(changed, sentence):
    assert any(problem.startswith(sentence) for problem in problems(**changed))


def test_every_problem_is_named_at_once_and_nothing_is_learned():
    said = problems(**line("terms", 2, "1,weld,0.5,A,resin,60,1,1"), **line("counts", 3, "14,resin,-1"))
    assert len(said) == 3  # the log of the refused step has no step either
    assert {problem.split(",")[0] for problem in said} == {"terms.csv", "logs.csv", "counts.csv"}


def test_a_wrong_figure_is_named_alone_and_not_what_stands_on_it():
    assert len(problems(**line("materials", 2, "resin,g,dear,resin,22,12,40,1,10,350"))) == 1
    assert len(problems(**line("materials", 2, "resin,kg,0.022,resin,22,12,40,1,10,350"))) == 1
    assert len(problems(**line("factors", 2, "lam,resin,1.5,1.6,2.0"))) == 1


def test_a_bad_question_is_refused_too():
    ask = "job,operation,day,worker,material,need,mixes,brand\n2,weld,3,A,resin,60,1,1\n"
    with pytest.raises(Unreadable, match="operation: “weld” is not in factors"):
        read_all(GOOD, ask)
