"""Finished jobs for tests of what the shop learned: real rows through the real verbs, with chosen true factors."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from unittest import mock

import numpy as np

from inventory.models import PackPrice
from quotes import bench, quoting
from quotes.experience import refit
from quotes.models import Job, RecipeVersion, Step
from shop.models import User
from shop.platform.acts import Signed
from tests.conftest import NOW
from tests.quotes import seed
from tests.quotes.benches import all_ticked
from tests.quotes.conftest import open_shop

DING = {"length": "140 mm", "width": "90 mm", "depth": "20 mm"}
ODD = tuple(DING)  # more paste than is usual, so that a mix shows what was really used
TENTH = Decimal("0.1")


def shop_of_a_year() -> dict:
    """For the BEGINS of a module: the sample shop, with stock and prices since the start of the year."""
    made = open_shop()
    PackPrice.objects.update(from_day=date(NOW.year, 1, 1))
    seed.receive_stock(by=made["keeper"], at=NOW - timedelta(days=90))
    return made


def agreed_job(version: RecipeVersion, by: User, start: datetime) -> Job:
    """A ding on a board, agreed at the counter."""
    takein = quoting.take_in(
        brought_by=seed.customer(),
        board=seed.fish(),
        damages=[seed.rail_ding()],
        checks=seed.checked(),
        signed=Signed(by, start),
    )
    quote = quoting.start_quote(takeins=[takein], signed=Signed(by, start))
    way = quoting.add_way(
        board=quote.boards.get(), version=version, measures=DING, damage=takein.damages.get(), signed=Signed(by, start), accepted_odd=ODD,
    )  # fmt: skip
    return bench.accept_way(way=way, signed=Signed(by, start), how="at the counter", spoken=True)


def finished_job(
    version: RecipeVersion, by: User, *, start: datetime, dice: np.random.Generator, minutes: float = 1.0, resin: float = 1.0,
    spread: float = 0.1, slip: float = 1.0, logged: bool = True, set_up: float | None = None,
) -> Job:  # fmt: skip
    """One ding mended: minutes and resin take so many times what the trade says, the first mix `slip` times that.

    Setting up takes as many times as all else unless `set_up` says otherwise.
    """
    job = agreed_job(version, by, start)
    at = start
    for step in job.steps.exclude(operation="release").order_by("position"):
        step.refresh_from_db()
        at = max(at, step.earliest_at or at) + timedelta(minutes=30)
        lines = [line for line in step.part.snapshot["lines"] if line["step"] == step.plan["index"]]
        took = bench.planned_minutes(step)
        if logged:
            slip = _weigh(step, lines, by, at, resin * np.exp(spread * dice.standard_normal()), slip)
            more = 0.0 if set_up is None else (set_up - minutes) * _set_up(lines)
            took = _tenths((_trade(lines, "labour") * minutes + more) * np.exp(spread * dice.standard_normal()))
        at += timedelta(minutes=step.plan["minutes"])
        bench.finish_step(step=step, minutes=took, signed=Signed(by, at), typed=logged)
    return bench.finish_job(job=job, checks=all_ticked(job), signed=Signed(by, at))


def _weigh(step: Step, lines: list[dict], by: User, at: datetime, times: float, slip: float) -> float:
    for dose in bench.doses(step):
        line = next(line for line in lines if line["material"] == dose.resin)
        grams = _trade([line], "material") * times + line["mixes"] * line["loss_trade"]
        bench.record_mix(
            step=step, signed=Signed(by, at), which=dose.which, resin_g=_tenths(max(grams, line["least"]) * slip)
        )
        slip = 1.0
    return slip


def _trade(lines: list[dict], kind: str) -> float:
    """Need times the trade's factor of the first line of a kind."""
    line = next(line for line in lines if line["kind"] == kind)
    made = line["factor"]["learned"]
    return line["need"]["value"] * (made["trade"] if made else line["factor"]["value"])


def _set_up(lines: list[dict]) -> float:
    return next(line["set_up"] for line in lines if line["kind"] == "labour")


def _tenths(number: float) -> Decimal:
    return max(Decimal(str(number)).quantize(TENTH), TENTH)


def finished_jobs(version: RecipeVersion, by: User, many: int, *, seed_of_dice: int = 7, **more: object) -> list[Job]:
    """So many jobs, one every third day, the last one some days ago; learned from once, when the last is finished."""
    dice = np.random.default_rng(seed_of_dice)
    first = NOW - timedelta(days=3 * many + 3)
    jobs = []
    for number in range(many):
        at_once = refit.LEARNED_AT_ONCE if number == many - 1 else -1
        with mock.patch.object(refit, "LEARNED_AT_ONCE", at_once):
            jobs.append(finished_job(version, by, start=first + timedelta(days=3 * number), dice=dice, **more))
    return jobs
