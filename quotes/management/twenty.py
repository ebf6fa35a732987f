"""Twenty fins for the board club: a month of the demo’s shop, told to teach it what its own hands take.

The truth behind it (more minutes, more resin than the trade says) is known here alone; the shop learns it only from
what is written down. Every row goes through the verbs that the screens use. The dice are fixed, so the story is the
same each time.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from decimal import Decimal as D
from random import Random
from typing import NamedTuple

from inventory.counting import counts as counting
from inventory.models import Count, Lot, Pack
from inventory.stock import ledger
from quotes import bench, quoting
from quotes.costing.snapshot import SnapshotLine
from quotes.management import demo_shop
from quotes.management.clock import Clock, after
from quotes.models import Damage, Job, Recipe, Step, Way
from shop.models import Board, Customer, User
from shop.platform.acts import Signed

FIN = {"fin_base": "150 mm", "fin_height": "6 in", "fin_tip": "92 mm", "fins": "1", "pockets": "0", "paint": "0"}
JOBS = 20
DAYS = 13  # within which all are begun
HANDS, RESIN = 1.22, 1.25  # what this shop really takes, over what the trade says
JOB, STEP = 0.08, 0.12  # sd of the logarithm: from job to job, and from step to step
WRITTEN = 0.7  # share of jobs at which anybody writes anything down
COUNTED = ("resin-lam", "resin-gloss", "mekp", "cloth-6oz", "roving", "acetone")
RESTOCKED = {  # packs of each
    "resin-lam": 2,
    "resin-gloss": 2,
    "mekp": 2,
    "cloth-6oz": 2,
    "gloves": 7,
    "cup": 2,
    "brush": 2,
    "rag": 3,
    "cartridge-set": 4,
    "acetone": 2,
}
_TICKED = [{"line": line, "ok": True, "reason": ""} for line in quoting.TAKE_IN_CHECK]


class Hands(NamedTuple):
    """How one job goes: its difficulty, and whether anybody writes it down."""

    dice: Random
    hard: float
    written: bool

    def really(self, expected: float) -> D:
        """What was expected by the trade as it came out, to a tenth."""
        return max(D("0.1"), D(str(round(expected * math.exp(self.hard + self.dice.gauss(0, STEP)), 1))))


def fin_quote(*, signed: Signed) -> Way:
    """A fin snapped off a club member's log: the way that is quoted before, and again after."""
    return _drafted(*demo_shop.bran(), signed=signed)


def _drafted(customer: Customer, board: Board, *, signed: Signed) -> Way:
    takein = quoting.take_in(
        brought_by=customer, board=board, signed=signed, checks=_TICKED,
        damages=[
            Damage(
                kind=Damage.Kind.FIN, side=Damage.Side.BOTTOM, from_tail_mm=D(160), from_stringer_mm=D(0),
                words="glassed-on fin snapped off flush",
            )
        ],
    )  # fmt: skip
    quote = quoting.start_quote(takeins=[takein], signed=signed)
    return quoting.add_way(
        board=quote.boards.get(), version=Recipe.objects.get(key="glass-on-fin").current, measures=FIN,
        damage=takein.damages.get(), title="Fin glassed on again", signed=signed,
    )  # fmt: skip


def restock(*, signed: Signed) -> None:
    """What twenty fins use up, delivered before."""
    for key, packs in RESTOCKED.items():
        pack = Pack.objects.select_related("material", "supplier").get(material__key=key)
        ledger.receive(lot=Lot(material=pack.material, received_on=signed.at.date(), pack=pack, supplier=pack.supplier, delivery_note=f"CO-{signed.at:%j}"), quantity=pack.content * packs, value=pack.prices.get().price * packs, signed=signed)  # fmt: skip


def twenty_fins(*, by: User, hands: User, start: datetime) -> tuple[list[Job], dict[str, float]]:
    """Twenty fins, one or two begun on each of the days after `start`.

    The finished jobs, and by material what was taken beyond what the books say, in the material's unit.
    """
    dice = Random(20)  # noqa: S311 a story, no secret
    unwritten: dict[str, float] = {}
    jobs = []
    for number in range(JOBS):
        clock = Clock(start + timedelta(days=number * DAYS / JOBS))
        how = Hands(dice, dice.gauss(0, JOB), dice.random() < WRITTEN)
        way = _drafted(*demo_shop.club_board(number + 1), signed=Signed(by, clock.go_on()))
        job = bench.accept_way(way=way, signed=Signed(by, clock.go_on(5)), how="the club's list", spoken=True)
        jobs.append(_mended(job, how, hands, clock, unwritten))
    return jobs, unwritten


def _mended(job: Job, how: Hands, by: User, clock: Clock, unwritten: dict[str, float]) -> Job:
    """All steps of one fin; what was taken and not written down goes to `unwritten`, for a count to find."""
    part = job.way.parts.get()
    for step in Step.objects.filter(job=job).exclude(operation="release").order_by("position"):
        lines = [line for line in part.estimate.lines if line.step == step.planned.index]
        step.refresh_from_db()
        at = clock.wait_for(step.earliest_at)
        minutes = how.really(_by_trade(lines, "labour") * HANDS)
        _weigh(step, lines, how, Signed(by, at), unwritten)
        written = minutes if how.written else bench.planned_minutes(step)
        clock.at = after(at, float(minutes))
        bench.finish_step(step=step, minutes=written, signed=Signed(by, clock.at), typed=how.written)
    checks = [{"line": line, "ok": True, "reason": ""} for line in bench.release_lines(job)]
    return bench.finish_job(job=job, checks=checks, signed=Signed(by, clock.go_on(10)))


def _weigh(step: Step, lines: Sequence[SnapshotLine], how: Hands, signed: Signed, unwritten: dict[str, float]) -> None:
    for dose in bench.doses(step):
        line = next(line for line in lines if line.material == dose.resin)
        cups = line.mixes * line.trade_loss
        each = how.really((_by_trade([line], "material") * RESIN + cups) / dose.count)
        least = D(str(round(line.least / dose.count, 1)))
        for _ in range(dose.count):
            if how.written:
                bench.record_mix(step=step, which=dose.which, resin_g=max(each, least), signed=signed)
            else:
                unwritten[dose.resin] = unwritten.get(dose.resin, 0.0) + float(max(each, least)) - float(dose.resin_g)


def _by_trade(lines: Sequence[SnapshotLine], kind: str) -> float:
    """Need times the trade's own factor, whatever the shop has learned since."""
    line = next(line for line in lines if line.kind == kind)
    made = line.factor.learned
    return line.need * (made.trade if made else line.factor.value)


def count_shelf(*, signed: Signed, unwritten: Mapping[str, float] | None = None) -> Count:
    """A round of the materials that matter: what is really there is what the books say, less what nobody wrote down."""
    count = counting.start_count(shelf="", everything=True, blind=True, signed=signed)
    lines = list(count.lines.select_related("material", "lot").filter(material__key__in=COUNTED).order_by("pk"))
    missing = dict(unwritten or {})
    for line in lines:
        assert line.lot is not None
        key, held = line.material.key, float(line.lot.quantity_left)
        gone = max(0.0, min(held, missing.get(key, 0.0)))
        missing[key] = missing.get(key, 0.0) - gone
        counting.enter_line(line=line, packs=0, loose=D(str(round(held - gone, 1))), gross_g={}, signed=signed)
    counting.book_count(count=count, lines=[line.pk for line in lines], signed=signed)
    return count
