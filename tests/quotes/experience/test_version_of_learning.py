"""What another version of the software learned counts as not learned yet, and is worked out anew from rows."""

from __future__ import annotations

import hashlib
import io
import uuid
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.management import call_command
from django.urls import reverse

from quotes import experience
from quotes.estimating import shop_inputs, taught
from quotes.models import BACKTEST_VERSION, LEARNED_VERSION, Backtest, Experience, StepUse
from shop.management.commands import serve
from tests.conftest import NOW, TODAY
from tests.quotes.past import finished_jobs, shop_of_a_year

SHAPES = {
    "learned": {1: "792ebf19af489c1a", 2: "7ec6230f7ca3edab", 3: "93e5f2a09a9c3992"},
    "backtest": {1: "34d69d4095e7c3ee"},
}  # by version; a digest of `paths`, so that a change of shape is seen where the version was forgotten
OPEN = {
    "figures.losses",
    "figures.bases",
    "figures.own",
    "figures.again",
    "points",
    "state.base_brands",
    "state.extra_mixes",
    "state.planned_mixes",
}
ROWS = ("trade.", "figures.", "points.")  # whose lists in lists are rows of so many figures


def shop_with_a_past() -> dict:
    """Six finished jobs, one with a slip of a thousand, learned and foretold."""
    made = shop_of_a_year()
    told = made["versions"]["ding-deck-medium"], made["keeper"]
    jobs = finished_jobs(*told, 6, minutes=1.35, resin=1.2, spread=0.05)
    use = StepUse.objects.filter(material__key="resin-lam", step__operation="hot-coat").order_by("pk")[3]
    StepUse.objects.filter(pk=use.pk).update(used=use.used * 1000)
    experience.learn(at=NOW)
    experience.keep_backtest(walked=experience.backtest(day=TODAY), at=NOW)
    return {**made, "past": jobs}


BEGINS = {"past": shop_with_a_past}
pytestmark = pytest.mark.usefixtures("standing")


@pytest.fixture
def past(begun):
    return begun("past")


def made_by_another_version() -> None:
    """The rows as code of another version may have kept them: nothing in them is where it is looked for."""
    Experience.objects.update(
        version=LEARNED_VERSION - 1, state={"old": 1}, trade={"old": 1}, figures={"cells": [{"old": 1}]},
        points={"old": [[1]]}, doubtful=[{"old": 1}],
    )  # fmt: skip
    Backtest.objects.update(version=BACKTEST_VERSION - 1, answer={"jobs": [{"old": 1}], "summary": {"old": 1}})


def broken(**_: object) -> None:
    raise ValueError("no history")


def paths(value: Any, path: str, inner: bool = False) -> Iterator[str]:
    """Every place of a JSON value, by the names that lead to it; keys of `OPEN` places are data."""
    if isinstance(value, dict):
        for key, each in value.items():
            yield from paths(each, f"{path}.{'*' if path in OPEN else key}", inner or path in OPEN)
    elif isinstance(value, list) and value and isinstance(value[0], dict | list):
        for each in value:
            yield from paths(each, f"{path}[]", True)
    elif isinstance(value, list):
        yield f"{path}[{len(value) if inner and path.startswith(ROWS) else ''}]"
    else:
        yield path


def digest(*values: tuple[Any, str]) -> tuple[str, str]:
    found = sorted({path for value, name in values for path in paths(value, name)})
    return hashlib.sha256("\n".join(found).encode()).hexdigest()[:16], "\n".join(found)


def test_another_shape_has_another_version_which_is_not_read_until_learned_now(past, keeper_client):
    check_shapes()
    before = Experience.objects.get()
    made_by_another_version()
    check_unread(keeper_client)
    keeper_client.post(reverse("learn-now"), {"submission_key": str(uuid.uuid4())})
    row = Experience.objects.get()
    assert (row.version, row.stale_since) == (LEARNED_VERSION, None)
    assert [cell["operation"] for cell in row.figures["cells"]] == [
        cell["operation"] for cell in before.figures["cells"]
    ]
    assert taught()["learned"]


def check_shapes() -> None:
    row = Experience.objects.get()
    assert row.doubtful
    names = ("state", "trade", "figures", "points", "doubtful")
    shape, found = digest(*((getattr(row, name), name) for name in names))
    assert SHAPES["learned"].get(LEARNED_VERSION) == shape, (
        f"count LEARNED_VERSION up and add its digest; now:\n{found}"
    )
    shape, found = digest((Backtest.objects.get().answer, "answer"))
    assert SHAPES["backtest"].get(BACKTEST_VERSION) == shape, (
        f"count BACKTEST_VERSION up and add its digest; now:\n{found}"
    )


def check_unread(keeper_client) -> None:
    assert taught() == {}
    assert shop_inputs(day=TODAY).shop.learned == {}
    row = experience.experience()
    assert (row.jobs, row.figures, row.learned_at, row.stale_since) == (0, {}, None, NOW)
    assert not experience.kept_backtest().answer
    for name in ("learned", "operations", "backtest", "recipes", "price-list", "repricing", "rack"):
        assert keeper_client.get(reverse(name)).status_code == 200, name
    page = keeper_client.get(reverse("operations")).content.decode()
    assert "not learned from yet" in page
    assert "Learn now" in page
    assert experience.ask(on=TODAY) is None


def test_a_history_that_can_not_be_read_keeps_nobody_from_working_and_the_night_heals_it(past, keeper_client):
    before = Backtest.objects.get().answer
    made_by_another_version()
    with pytest.MonkeyPatch.context() as patched:
        for room in ("refit", "backtesting"):
            patched.setattr(f"quotes.experience.{room}.gather", broken)
        assert experience.renew(at=NOW).startswith("What the shop learned waits: The history could not be worked out")
    assert taught() == {}
    assert keeper_client.get(reverse("operations")).status_code == 200
    assert keeper_client.get(reverse("backtest")).status_code == 200
    call_command("tick", stdout=io.StringIO(), stderr=io.StringIO())
    assert Experience.objects.get().version == LEARNED_VERSION
    row = Backtest.objects.get()
    assert row.version == BACKTEST_VERSION
    assert [one["job"] for one in row.answer["jobs"]] == [one["job"] for one in before["jobs"]]


def test_starting_the_service_heals_it_once_and_says_so(past, monkeypatch):
    made_by_another_version()
    monkeypatch.setattr(serve, "pending_migrations", lambda: (True, False))
    monkeypatch.setattr(serve, "call_command", lambda *_, **__: None)
    said = io.StringIO()
    serve.prepare(said)
    assert "Learned anew from 6 jobs." in said.getvalue()
    assert (Experience.objects.get().version, Backtest.objects.get().version) == (LEARNED_VERSION, BACKTEST_VERSION)
    again = io.StringIO()
    serve.prepare(again)
    assert again.getvalue() == ""


def test_a_shop_that_never_learned_waits_for_nothing(profile):
    Experience.objects.create(pk=1)
    assert experience.renew(at=NOW) == ""
    assert experience.experience().stale_since is None
