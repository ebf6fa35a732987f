"""Today at the bench: the plan that was kept, with what really happened laid over it; one tap begins a step."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from decimal import Decimal as D

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from quotes import bench as b
from quotes.bench.job.today import RULE, bench_today, names_of, steps_on_the_bench
from quotes.bench.job.todays_step import AFTER, CURES, DOING
from quotes.bench.job.todays_step import NOW as CAN_BEGIN
from quotes.models import Job, Outlook, Step, TakeIn
from quotes.planner import hands
from quotes.ready_days.outlook import outlook
from shop.models import Board, Customer
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY, the_day
from tests.quotes.conftest import with_keels_agreed
from tests.reading import says

pytestmark = pytest.mark.usefixtures("standing")
BEGINS = {"job": with_keels_agreed}


@pytest.fixture(autouse=True)
def only_these(job):
    """The agreed job gives its way to the boards of the test, and is no longer on the bench itself."""
    Job.objects.filter(pk=job.pk).update(state=Job.State.PICKED_UP)


def board(job: Job, tag: str, *steps: tuple, **more) -> Job:
    """A job with steps of one repair: title, minutes, and hours of cure before each may begin."""
    owner, _ = Customer.objects.get_or_create(name=f"Owner of {tag}")
    own = Board.objects.create(owner=owner, name="6′2″ egg", length_mm=D(1880), width_mm=D(540))
    takein = TakeIn.objects.create(tag=tag, board=own, brought_by=owner, received_at=NOW, by=job.by)
    made = Job.objects.create(takein=takein, way=job.way, agreed_at=NOW, by=job.by, **more)
    for position, (title, minutes, *wait) in enumerate(steps, start=1):
        plan = {"minutes": minutes, "earliest_start_h": wait[0] if wait else 0}
        operation = title if title == b.RELEASE else "sand"
        Step.objects.create(job=made, position=position, operation=operation, title=title, plan=plan)
    return made


def plan(*rows: tuple, worked_at: datetime = NOW, **more) -> Outlook:
    """An outlook that was kept: person, minutes from NOW, step."""
    told = [
        {"person": getattr(person, "pk", person), "from": (NOW + timedelta(minutes=after)).isoformat(),
         "minutes": step.plan["minutes"], "job": step.job_id, "step": step.pk}
        for person, after, step in rows
    ]  # fmt: skip
    return Outlook.objects.update_or_create(pk=1, defaults={"worked_at": worked_at, "plan": told, **more})[0]


def today(at: datetime = NOW, own: int = 0):
    seen = outlook()
    return bench_today(seen, steps_on_the_bench(), names_of(seen), at, own)


def titles(rows) -> list[str]:
    return [row.step.title for row in rows]


def only_day(at: datetime = NOW):
    [day] = today(at).people
    return day


def steps_of(job: Job) -> list[Step]:
    return list(job.steps.order_by("position"))


def window(step: Step, *, opens: float | None = None, closes: float | None = None) -> None:
    """Hours from NOW in which a step may be begun."""
    at = [None if hours is None else NOW + timedelta(hours=hours) for hours in (opens, closes)]
    Step.objects.filter(pk=step.pk).update(earliest_at=at[0], latest_at=at[1])


# How a step stands


def test_each_row_says_how_its_step_stands(job):
    one, two = board(job, "A1", ("Rout", 20), ("Fill", 10)), board(job, "A2", ("Level", 15))
    rout, fill = steps_of(one)
    [level] = steps_of(two)
    window(level, opens=2)
    plan((0, 0, rout), (0, 20, fill), (0, 120, level))
    rows = only_day().rows
    assert [(row.standing, row.may_begin) for row in rows] == [(CAN_BEGIN, True), (AFTER, False), (CURES, False)]
    until = timezone.localtime(NOW + timedelta(hours=2))
    assert [row.state for row in rows] == ["", "after: Rout", f"cures until {until:%H:%M}"]
    assert [row.time for row in rows] == [
        f"{timezone.localtime(NOW + timedelta(minutes=each)):%H:%M}" for each in (0, 20, 120)
    ]
    assert [row.minutes for row in rows] == [20, 10, 15]
    Step.objects.filter(pk=rout.pk).update(state=Step.State.DOING, started_at=NOW)
    first = only_day().rows[0]
    assert (first.standing, first.may_begin, first.mark) == (DOING, False, "now")
    assert first.state == f"under way since {timezone.localtime(NOW):%H:%M}"


def test_what_bonds_not_for_long_comes_first_and_says_until_when(job):
    sand, coat, later = (steps_of(board(job, tag, (title, 20)))[0] for tag, title in (("B1", "Sand"), ("B2", "Coat"), ("B3", "Gloss")))  # fmt: skip
    window(coat, opens=-1, closes=hands.CLOSES_WITHIN_H - 0.5)
    window(later, opens=-1, closes=hands.CLOSES_WITHIN_H + 0.5)
    plan((0, 0, sand), (0, 20, later), (0, 40, coat))
    rows = only_day().rows
    assert titles(rows) == ["Coat", "Sand", "Gloss"]
    until = timezone.localtime(NOW + timedelta(hours=hands.CLOSES_WITHIN_H - 0.5))
    assert (rows[0].state, rows[0].mark) == (f"bonds until {until:%H:%M}", "wait")
    over = rows_of(NOW + timedelta(hours=hands.CLOSES_WITHIN_H))
    assert [row.step.title for row in over if row.sand_first] == ["Coat"]
    assert next(row.state for row in over if row.sand_first) == "window over"


def rows_of(at: datetime):
    return only_day(at).rows


def test_the_release_check_has_its_own_page(job, bench_client):
    check = steps_of(board(job, "C1", (b.RELEASE, 5)))[0]
    plan((0, 0, check))
    row = only_day().rows[0]
    assert (row.may_begin, row.releases) == (False, True)
    html = says(bench_client.get("/today/"))
    assert f'href="/job/{check.job_id}/release/"' in html
    assert "Look it over" in html
    assert f"/step/{check.pk}/start/" not in html


# What may be done meanwhile


def test_what_cures_says_until_when_and_what_fills_that_time(job):
    fill, level = steps_of(board(job, "D1", ("Fill", 30), ("Level", 15, 4)))
    [sand] = steps_of(board(job, "D2", ("Sand", 20)))
    plan((0, 0, fill), (0, 30, sand))
    first, second = only_day().rows
    free = timezone.localtime(NOW + timedelta(hours=4, minutes=30))
    assert first.cure == f"Then cures until about {free:%H:%M}. Meanwhile: Sand, tag D2."
    assert second.cure == ""
    b.finish_step(step=fill, minutes=D(30), rest_as_planned=False, signed=Signed(job.by, NOW))
    window(level, opens=4)
    plan((0, 0, level), (0, 30, sand))
    cures = only_day().rows[0]
    assert cures.state == f"cures until {timezone.localtime(NOW + timedelta(hours=4)):%H:%M}"
    assert cures.cure == "Meanwhile: Sand, tag D2."


def test_nothing_is_said_to_fill_the_time_where_nothing_does(job):
    fill, _ = steps_of(board(job, "E1", ("Fill", 30), ("Level", 15, 4)))
    plan((0, 0, fill))
    assert "Meanwhile" not in only_day().rows[0].cure
    quick, _ = steps_of(board(job, "E2", ("Tack", 5), ("Press on", 15, 0.1)))
    plan((0, 0, quick))
    assert only_day().rows[0].cure == ""


# The plan survives that people do something else


def test_what_was_done_meanwhile_or_left_out_is_gone(job, bench):
    one, two, three = (board(job, tag, ("First", 20), ("Second", 10)) for tag in ("F1", "F2", "F3"))
    firsts = [steps_of(each)[0] for each in (one, two, three)]
    plan(*((0, 20 * n, step) for n, step in enumerate(firsts)))
    b.finish_step(step=firsts[0], minutes=D(5), rest_as_planned=False, signed=Signed(bench, NOW))
    b.drop_step(step=firsts[1], reason="not there", signed=Signed(bench, NOW))
    later = today()
    assert titles(later.people[0].rows) == ["First"]
    assert [row.step.job_id for row in later.people[0].rows] == [three.pk]
    assert {(row.step.job_id, row.step.title) for row in later.also} == {(one.pk, "Second"), (two.pk, "Second")}
    Job.objects.filter(pk=three.pk).update(state=Job.State.STOPPED)
    Step.objects.filter(job=three).delete()
    later = today()
    assert later.people == []
    assert len(later.also) == 2


def test_what_was_begun_out_of_order_is_under_way_and_first(job, bench):
    sand, gloss = steps_of(board(job, "G1", ("Sand", 20)))[0], steps_of(board(job, "G2", ("Gloss", 20)))[0]
    [other] = steps_of(board(job, "G3", ("Nobody planned it", 10)))
    plan((0, 0, sand), (0, 20, gloss))
    b.start_step(step=gloss, signed=Signed(bench, NOW))
    assert titles(only_day().rows) == ["Gloss", "Sand"]
    b.start_step(step=other, signed=Signed(bench, NOW))
    assert titles(only_day().rows) == ["Nobody planned it", "Gloss", "Sand"]


def test_what_nobody_planned_but_presses_goes_before_the_plans_of_several_people(job, bench, keeper):
    sand, gloss, coat = (steps_of(board(job, tag, (tag, 20)))[0] for tag in ("H1", "H2", "H3"))
    window(coat, opens=-1, closes=1)
    plan((bench, 0, sand), (keeper, 0, gloss))
    people = today(own=bench.pk).people
    assert [(each.name, titles(each.rows)) for each in people] == [
        ("", ["H3"]), (bench.name, ["H1"]), (keeper.name, ["H2"]),
    ]  # fmt: skip
    assert today(own=keeper.pk).people[1].name == keeper.name


def test_what_waits_for_an_answer_is_not_offered_but_a_window_goes_on(job, bench):
    asked, pressing = board(job, "I1", ("Sand", 20)), board(job, "I2", ("Coat", 20))
    for each in (asked, pressing):
        b.note_found(job=each, words="Wet foam", signed=Signed(bench, NOW))
    window(steps_of(pressing)[0], opens=-1, closes=1)
    assert titles(today().also) == ["Coat"]


def test_what_could_also_be_begun_stands_as_the_plan_has_it_on_a_later_day(job):
    now, late, soon, never = (steps_of(board(job, tag, (tag, 20)))[0] for tag in ("J1", "J2", "J3", "J4"))
    plan((0, 0, now), (0, 24 * 60, soon), (0, 3 * 24 * 60, late))
    found = today()
    assert titles(found.people[0].rows) == ["J1"]
    assert titles(found.also) == ["J3", "J2", "J4"]
    assert found.also[0].time == f"{timezone.localtime(NOW + timedelta(days=1)):%a %H:%M}"
    assert found.also[2].time == ""
    assert never.pk == found.also[2].step.pk


def test_what_was_planned_before_today_and_not_done_is_todays(job, bench_client):
    [old] = steps_of(board(job, "K1", ("Sand", 20)))
    plan((0, -24 * 60, old), worked_at=NOW - timedelta(days=1))
    assert only_day().rows[0].time == f"{timezone.localtime(NOW - timedelta(days=1)):%a %H:%M}"
    assert "The plan was last worked out " + the_day(TODAY - timedelta(days=1)) in says(bench_client.get("/today/"))


def test_where_today_is_over_the_next_day_with_work_is_shown(job, bench_client):
    one, two = (steps_of(board(job, tag, (tag, 20)))[0] for tag in ("L1", "L2"))
    plan((0, 48 * 60, one), (0, 72 * 60, two))
    found = today()
    assert (found.of_today, titles(found.people[0].rows)) == (False, ["L1"])
    html = says(bench_client.get("/today/"))
    assert f"What comes next is planned for {the_day(TODAY + timedelta(days=2))}" in html
    assert "Next at the bench" not in says(bench_client.get("/")), "the rack shows today alone"


# Nothing kept


@pytest.mark.parametrize("trouble", ["", "Nobody is at work within a year: give somebody hours."])
def test_without_a_plan_the_page_opens_with_what_can_be_begun(job, bench_client, trouble):
    first = board(job, "M1", ("Sand", 20), promised_on=TODAY + timedelta(days=9))
    second = board(job, "M2", ("Gloss", 20), promised_on=TODAY + timedelta(days=3))
    Outlook.objects.all().delete()  # who logged in had one worked out
    if trouble:
        plan(trouble=trouble)
    answer = bench_client.get("/today/")
    assert [row.step.job_id for row in answer.context["plan"].also] == [second.pk, first.pk]
    html = says(answer)
    assert "Can be begun now" in html
    assert ("No plan was worked out yet." in html) == (not trouble)
    assert trouble in html
    assert "The plan could not be worked out." in html or not trouble
    assert bench_client.get("/").status_code == 200


def test_a_bench_without_boards_says_so(bench_client):
    assert "No step can be begun now." in says(bench_client.get("/today/"))


def test_the_plan_is_worked_out_again_on_a_tap_by_every_role(
    job, keeper_client, counter_client, bench_client, form_key
):
    made = board(job, "S1", ("Sand", 20), promised_on=TODAY + timedelta(days=9))
    for client in (keeper_client, counter_client, bench_client):
        Outlook.objects.all().delete()
        assert "Work the plan out now" in says(client.get("/today/"))
        assert client.get("/today/again/")["Location"] == "/today/"
        assert not Outlook.objects.exists(), "looking changes nothing"
        assert client.post("/today/again/", {"submission_key": form_key()})["Location"] == "/today/"
        [row] = Outlook.objects.get().plan
        assert (row["job"], row["step"]) == (made.pk, steps_of(made)[0].pk)
        answer = client.get("/today/")
        assert "The plan is worked out as things stand now." in says(answer)
        assert titles(answer.context["plan"].people[0].rows) == ["Sand"]
        assert answer.context["plan"].people[0].name == "The bench", "nobody has hours"


# The page


def test_the_page_says_the_rule_and_what_each_row_is(job, bench, bench_client):
    [sand] = steps_of(board(job, "N1", ("Sand", 35)))
    plan((bench, 0, sand))
    html = says(bench_client.get("/today/"))
    assert RULE in html
    assert f"{hands.CLOSES_WITHIN_H:.0f} hours or less" in RULE
    for word in (bench.name, "Sand", "Owner of N1", "tag N1", "35 min"):
        assert word in html
    assert "last worked out" not in html
    assert "€" not in html


def test_one_tap_begins_the_step_and_leads_to_it(job, bench, bench_client):
    sand, gloss = (steps_of(board(job, tag, (tag, 20)))[0] for tag in ("O1", "O2"))
    plan((bench, 0, sand), (bench, 20, gloss))
    for page in ("/today/", "/"):
        html = bench_client.get(page).content.decode()
        assert f'action="/step/{sand.pk}/start/"' in html
        assert f'action="/step/{gloss.pk}/start/"' in html
    html = bench_client.get("/today/").content.decode()
    assert len(re.findall(r'<button type="submit" class="go">', html)) == 1, "one loud button"
    form = html[html.index(f'action="/step/{gloss.pk}/start/"') :]
    key = re.search(r'name="submission_key" value="([^"]+)"', form).group(1)
    answer = bench_client.post(f"/step/{gloss.pk}/start/", {"submission_key": key})
    assert answer["Location"] == f"/step/{gloss.pk}/"
    gloss.refresh_from_db()
    assert gloss.state == Step.State.DOING
    assert titles(bench_client.get("/today/").context["plan"].people[0].rows) == ["O2", "O1"]


def test_a_tap_on_what_is_late_puts_the_sanding_in(job, bench_client, form_key):
    [coat] = steps_of(board(job, "P1", ("Coat", 20)))
    window(coat, opens=-9, closes=-1)
    plan((0, 0, coat))
    assert "Sand first" in says(bench_client.get("/today/"))
    bench_client.post(f"/step/{coat.pk}/start/", {"submission_key": form_key()})
    begun, still = steps_of(Job.objects.get(pk=coat.job_id))
    assert (begun.state, still.pk) == (Step.State.DOING, coat.pk)
    rows = only_day().rows
    assert titles(rows) == [begun.title, "Coat"]
    assert rows[1].standing == AFTER


def test_the_rack_shows_the_next_two_of_each_person_with_their_name(job, bench, keeper, bench_client):
    steps = [steps_of(board(job, f"Q{n}", (f"Step {n}", 20)))[0] for n in range(4)]
    plan(*((bench, 20 * n, step) for n, step in enumerate(steps[:3])), (keeper, 0, steps[3]))
    html = says(bench_client.get("/"))
    start = html.index("Next at the bench")
    piece = html[start : html.index("All of today, in order", start)]
    assert [n for n in range(4) if f"Step {n}" in piece] == [0, 1, 3]
    assert piece.index(bench.name) < piece.index(keeper.name)
    assert "Next at the bench" not in says(bench_client.get("/?only=hands"))


def test_pages_ask_as_much_of_a_long_plan_as_of_a_short_one(job, bench, keeper, bench_client):
    asked: dict[str, list[int]] = {"/today/": [], "/": []}
    steps: list[Step] = []
    for count in (2, 40):
        steps += [
            step for n in range(count) for step in steps_of(board(job, f"{count}R{n}", ("Fill", 20), ("Level", 9, 3)))
        ]
        plan(*((keeper if n % 2 else bench, 10 * n, step) for n, step in enumerate(steps)))
        for page, found in asked.items():
            bench_client.get(page)
            with CaptureQueriesContext(connection) as queries:
                assert bench_client.get(page).status_code == 200
            found.append(len(queries))
    assert {page for page, found in asked.items() if found[0] != found[1]} == set()
    assert asked["/today/"][1] <= 16
