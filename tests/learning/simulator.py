"""Made-up repair shops, so that learning can be scored against what it could not see. Same seed, same shop.

Written apart from the product's own mathematics: it draws, it never computes a moment. A shop has true factors around
the trade's, true cup losses, steps that scatter, jobs that are harder or easier as a whole, cups that vary, a mix too
many now and then, discs used by whole pieces, a second worker, new brands, a slow drift, use that no job accounts for,
scales with steps, and a repairer who writes down some jobs and slips in some of that.

How wide all this is drawn follows what the sample shops' own files show without their answers (`likeness` prints both
side by side): how far steps scatter, how far a shop lies from the trade, how well a shelf is counted, how large a
delivery is, when a second worker comes. Who comes does a little less of what is asked about than there; labour lies
further from the trade than there.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import count, islice
from pathlib import Path

import numpy as np

from quotes.costing.learning.files.interchange import read_all
from quotes.costing.learning.history import (
    Cell,
    History,
    HistoryMaterial,
    Hours,
    Log,
    Range,
    Receipt,
    ShelfCount,
    Term,
    Trade,
)
from quotes.costing.stats.assumptions import MINUTES

MATERIALS = {
    material.key: material
    for material in (
        HistoryMaterial("laminating", "g", 0.024, "resin", Range(20, 12, 38), 1, 10, 350),
        HistoryMaterial("coating", "g", 0.026, "resin", Range(17, 9, 32), 1, 10, 300),
        HistoryMaterial("hardener", "mL", 0.055, "resin", None, 0.5, 5),
        HistoryMaterial("pour_foam", "g", 0.05, "foam", Range(13, 6, 26), 1, 10, 140),
        HistoryMaterial("glass", "m2", 8.2, "cloth", None, 0.01, 0.1),
        HistoryMaterial("strands", "g", 0.018, "cloth", None, 1, 10),
        HistoryMaterial("coarse_disc", "each", 0.8, "abrasive", None, 1, 1),
        HistoryMaterial("fine_disc", "each", 0.95, "abrasive", None, 1, 1),
        HistoryMaterial("wet_sheet", "each", 1.0, "abrasive", None, 1, 1),
        HistoryMaterial("line_tape", "m", 0.12, "mask", None, 0.5, 1),
        HistoryMaterial("base_paint", "mL", 0.05, "spray", Range(16, 9, 30), 1, 20, 400),
        HistoryMaterial("gloss", "mL", 0.06, "spray", Range(18, 10, 34), 1, 20, 400),
        HistoryMaterial("thinner", "mL", 0.009, "solvent", None, 5, 50),
        HistoryMaterial("fin_box", "each", 11.0, "hardware", None, 1, 1),
    )
}
# operation -> material -> (fixed need, need per unit of damage, trade range)
OPERATIONS: dict[str, dict[str, tuple[float, float, Range]]] = {
    "open_up": {
        "coarse_disc": (0.1, 0.5, Range(1.2, 0.7, 2.0)),
        MINUTES: (8.0, 14.0, Range(1.15, 0.8, 1.7)),
    },
    "pour": {"pour_foam": (4.0, 45.0, Range(1.4, 1.05, 1.9)), MINUTES: (10.0, 9.0, Range(1.1, 0.75, 1.6))},
    "rope": {
        "strands": (2.0, 14.0, Range(1.15, 1.0, 1.45)),
        "laminating": (5.0, 34.0, Range(1.3, 1.0, 1.8)),
        "hardener": (0.1, 0.65, Range(1.0, 0.75, 1.4)),
        MINUTES: (9.0, 12.0, Range(1.15, 0.8, 1.7)),
    },
    "laminate": {
        "glass": (0.02, 0.18, Range(1.25, 1.1, 1.55)),
        "laminating": (2.0, 60.0, Range(1.5, 1.15, 2.0)),
        "hardener": (0.05, 1.1, Range(1.0, 0.75, 1.4)),
        "thinner": (25.0, 0.0, Range(1.0, 0.5, 2.0)),
        MINUTES: (8.0, 10.0, Range(1.15, 0.8, 1.7)),
    },
    "hot_coat": {
        "coating": (2.0, 42.0, Range(1.3, 1.0, 1.8)),
        "hardener": (0.03, 0.8, Range(1.0, 0.75, 1.4)),
        "line_tape": (0.3, 1.2, Range(1.2, 1.0, 1.6)),
        "thinner": (25.0, 0.0, Range(1.0, 0.5, 2.0)),
        MINUTES: (7.0, 4.0, Range(1.1, 0.75, 1.6)),
    },
    "flat": {
        "coarse_disc": (0.05, 0.4, Range(1.2, 0.7, 2.0)),
        "fine_disc": (0.05, 0.4, Range(1.2, 0.7, 2.0)),
        "wet_sheet": (0.05, 0.6, Range(1.2, 0.7, 2.0)),
        MINUTES: (12.0, 15.0, Range(1.2, 0.8, 1.8)),
    },
    "paint": {
        "line_tape": (0.5, 2.5, Range(1.2, 1.0, 1.6)),
        "base_paint": (2.0, 40.0, Range(1.9, 1.3, 2.9)),
        "thinner": (35.0, 0.0, Range(1.0, 0.5, 2.0)),
        MINUTES: (22.0, 10.0, Range(1.15, 0.8, 1.7)),
    },
    "clear": {
        "gloss": (2.0, 45.0, Range(1.9, 1.3, 2.9)),
        "thinner": (35.0, 0.0, Range(1.0, 0.5, 2.0)),
        MINUTES: (18.0, 8.0, Range(1.15, 0.8, 1.7)),
    },
    "set_box": {
        "fin_box": (1.0, 0.0, Range(1.0, 0.98, 1.02)),
        "laminating": (60.0, 0.0, Range(1.3, 1.0, 1.8)),
        "hardener": (1.1, 0.0, Range(1.0, 0.75, 1.4)),
        MINUTES: (32.0, 0.0, Range(1.15, 0.8, 1.7)),
    },
    "buff": {MINUTES: (8.0, 3.0, Range(1.15, 0.8, 1.7))},
}
TRADE = Trade(
    MATERIALS, {Cell(step, key): usual for step, needs in OPERATIONS.items() for key, (_, _, usual) in needs.items()}
)
RECIPES = (
    (("open_up", "rope", "laminate", "hot_coat", "flat", "buff"), 0.35),
    (("open_up", "pour", "laminate", "hot_coat", "flat", "buff"), 0.2),
    (("open_up", "rope", "laminate", "hot_coat", "flat", "paint", "clear", "buff"), 0.2),
    (("open_up", "pour", "laminate", "hot_coat", "flat", "paint", "clear", "buff"), 0.12),
    (("open_up", "set_box", "laminate", "hot_coat", "flat"), 0.13),
)
PACKS = {  # what a delivery brings, in the material's unit
    "laminating": 5000.0, "coating": 4000.0, "hardener": 500.0, "pour_foam": 1500.0, "glass": 20.0, "strands": 1000.0,
    "coarse_disc": 50.0, "fine_disc": 50.0, "wet_sheet": 50.0, "line_tape": 50.0, "base_paint": 1000.0, "gloss": 2000.0,
    "thinner": 5000.0, "fin_box": 5.0,
}  # fmt: skip
HOURLY = 45.0
_END = 1.6449
# sd of ln(use/need) of a cell from job to job; with the difficulty of the job a step of labour scatters by 0.24
_SPREAD_LABOUR, _SPREAD_MATERIAL = 0.205, 0.17
_SPREADS = 0.25  # sd of the logarithm of that from cell to cell
_COUNT_ERROR = 0.015  # sd of a count, as a share of what is on the shelf
_SHOPS, _ANSWERS = Path(__file__).parent / "shops", ("truth.csv", "wrong.csv")
_AS_GIVEN = 1.1  # a trade range no wider than this, high over low: the need is what is used
_DAYS_BETWEEN = (0.8, 2.8)  # of one job's start and the next one's


@dataclass(frozen=True)
class Plan:
    """What kind of shop to make."""

    jobs: int = 20
    logged: float = 0.3  # share of jobs that were written down
    count_every: float | None = 14.0  # days between counts of the shelf
    hours_every: float | None = None  # days between totals of bench hours
    ask: int = 30
    slips: float = 0.03
    wrong_trade: float = 1.0  # sd of the true factors as a multiple of the one the trade's 5 to 95 % ranges say
    second_worker: float = 0.6  # chance that one joins, between a quarter and three quarters of the way to the last job
    new_brand: float = 0.15  # chance for each material
    drift: float = 0.03  # sd of a factor's move over half a year


@dataclass(frozen=True)
class MadeUp:
    """A shop, the jobs it is asked about, what they really took, and what one who knows every true figure would say."""

    history: History
    asked: dict[str, list[Term]]
    truth: dict[str, tuple[float, float]]  # material cost, minutes
    knowing: dict[str, tuple[float, float]]  # medians of the same
    slips: dict[tuple[str, str, str], float] = field(default_factory=dict)  # wrong logs: value over the right reading
    factors: dict[Cell, float] = field(default_factory=dict)
    spreads: dict[Cell, float] = field(default_factory=dict)  # true sd of ln(use/need) from job to job
    past: dict[str, tuple[float, float]] = field(default_factory=dict)  # what the finished jobs really took, as `truth`


class _Shop:
    """The truth of one shop. `firsts` are the worker and, by material, the brand that the trade's figures are of."""

    def __init__(
        self, seed: int, plan: Plan, trade: Trade, packs: Mapping[str, float], firsts: Mapping[str, str]
    ) -> None:
        self.rng = rng = np.random.default_rng(seed)
        self.plan, self.trade, self.packs, self.firsts = plan, trade, packs, firsts
        wide = plan.wrong_trade
        self.k, self.spread, self.move = {}, {}, {}
        for cell, usual in trade.factors.items():
            sd = math.log(usual.high / usual.low) / (2 * _END)
            self.k[cell] = usual.mid * math.exp(rng.normal(0, wide * sd))
            usual_spread = _SPREAD_LABOUR if cell.material == MINUTES else _SPREAD_MATERIAL
            self.spread[cell] = usual_spread * math.exp(rng.normal(0, _SPREADS))
            self.move[cell] = rng.normal(0, plan.drift) / 180
        for cell, usual in trade.factors.items():
            if usual.high / usual.low < _AS_GIVEN:
                self.k[cell], self.spread[cell] = 1.0, 0.0
        self.loss = {
            key: m.loss.mid * math.exp(rng.normal(0, wide * math.log(m.loss.high / m.loss.low) / (2 * _END)))
            for key, m in trade.materials.items()
            if m.loss
        }
        days = plan.jobs * sum(_DAYS_BETWEEN) / 2
        self.two = rng.random() < plan.second_worker
        self.joins = rng.uniform(0.25, 0.75) * (plan.jobs + plan.ask) * sum(_DAYS_BETWEEN) / 2
        self.worker = {True: rng.normal(0, 0.15), False: rng.normal(0, 0.075)}  # by whether it is labour
        self.brand_from = {
            key: rng.uniform(0.4, 1.2) * days if rng.random() < plan.new_brand else math.inf for key in trade.materials
        }
        self.brand = {key: rng.normal(0, 0.15) for key in trade.materials}
        self.unassigned = {key: max(0.0, rng.normal(0.03, 0.03)) for key in trade.materials}

    def job(self, name: str, day: float) -> list[Term]:
        """The needs of one job that comes in on a day."""
        rng = self.rng
        recipe = RECIPES[rng.choice(len(RECIPES), p=[share for _, share in RECIPES])][0]
        size = math.exp(rng.normal(-0.7, 0.9))
        worker = "B" if self.two and day > self.joins and rng.random() < 0.5 else "A"
        terms, at = [], day
        for step in recipe:
            at += rng.uniform(0.05, 1.4)
            for key, (fixed, per, usual) in OPERATIONS[step].items():
                need = fixed + per * size * (1.0 if step == "set_box" else math.exp(rng.normal(0, 0.1)))
                mixes = 0.0
                if key != MINUTES and MATERIALS[key].loss:
                    mixes = float(math.ceil(need * usual.mid / (MATERIALS[key].max_batch or math.inf)) or 1)
                brand = "new" if key != MINUTES and at > self.brand_from[key] else "first"
                terms.append(Term(name, step, round(at, 3), worker, key, need, mixes, brand))
        return terms

    def uses(self, terms: list[Term], draws: int) -> tuple[np.ndarray, np.ndarray]:
        """What the terms of one job really take, and in how many mixes: draws × terms."""
        rng = self.rng
        hard = {True: rng.normal(0, 0.10, draws), False: rng.normal(0, 0.05, draws)}
        use, mixes = np.empty((draws, len(terms))), np.zeros((draws, len(terms)))
        for at, term in enumerate(terms):
            cell, labour = Cell(term.operation, term.material), term.material == MINUTES
            shift = math.log(self.k[cell]) + self.move[cell] * term.day
            shift += self.worker[labour] * (term.worker != self.firsts[MINUTES])
            shift += 0.0 if labour or term.brand == self.firsts[term.material] else self.brand[term.material]
            own = rng.normal(0, 1, draws) * self.spread[cell]
            if not self.spread[cell]:
                use[:, at] = term.need
                continue
            amount = term.need * np.exp(shift + own + hard[labour])
            if self.trade.whole(term.material):
                amount = np.maximum(1.0, np.ceil(amount))
            if term.mixes and self.trade.loss(term.material):
                more = (rng.random(draws) < 0.10).astype(float)
                mixes[:, at] = term.mixes + more
                for cup in range(int(term.mixes) + 1):
                    there = 1.0 if cup < term.mixes else more
                    amount = amount + there * self.loss[term.material] * np.exp(rng.normal(0, 0.35, draws))
            use[:, at] = amount
        return use, mixes


def make(seed: int, plan: Plan) -> MadeUp:
    """One shop."""
    shop = _Shop(seed, plan, TRADE, PACKS, {MINUTES: "A"} | dict.fromkeys(MATERIALS, "first"))
    jobs = _come_in(shop)
    return _lived(shop, islice(jobs, plan.jobs), islice(jobs, plan.ask))


def on_paper(seed: int, plan: Plan, paper: History, asked: Sequence[Term]) -> MadeUp:
    """A shop with the trade, the steps, the workers and the brands of another's files, all its truth drawn anew."""
    firsts = {MINUTES: paper.terms[0].worker}
    for term in (*paper.terms, *asked):
        firsts.setdefault(term.material, term.brand)
    packs = {count.material: count.qty for count in reversed(paper.counts)}
    shop = _Shop(seed, plan, paper.trade, packs, firsts)
    return _lived(shop, _by_job(paper.terms), _by_job(asked))


def sample(number: int) -> tuple[History, list[Term]]:
    """What a sample shop's own files say: its history and the steps it is asked about, without their answers."""
    files = [path for path in (_SHOPS / f"shop-{number}").iterdir() if path.name not in _ANSWERS]
    texts = {path.name: path.read_text(encoding="utf-8") for path in files}
    return read_all(texts, texts.pop("ask.csv"))


def _by_job(terms: Sequence[Term]) -> list[list[Term]]:
    jobs = defaultdict(list)
    for term in terms:
        jobs[term.job].append(term)
    return list(jobs.values())


def _come_in(shop: _Shop) -> Iterator[list[Term]]:
    """One job after the other, without end."""
    day = 0.0
    for number in count(1):
        day += shop.rng.uniform(*_DAYS_BETWEEN)
        yield shop.job(str(number), day)


def _lived(shop: _Shop, done: Iterable[list[Term]], asked: Iterable[list[Term]]) -> MadeUp:
    """What really became of jobs, what was written down of the done ones, and what the asked ones will take."""
    rng, plan = shop.rng, shop.plan
    terms, real, logs, slips, past = [], [], [], {}, {}
    for job in done:
        use, mixes = (drawn[0] for drawn in shop.uses(job, 1))
        past[job[0].job] = _totals(shop.trade, job, use)
        terms += job
        real += use.tolist()
        if rng.random() < plan.logged:
            for term, amount, mixed in zip(job, use, mixes, strict=True):
                if rng.random() < 0.9:
                    log, slip = _write_down(shop, term, float(amount), float(mixed))
                    logs.append(log)
                    if slip:
                        slips[term.job, term.operation, term.material] = slip
    coming = {job[0].job: job for job in asked}
    truth, knowing = {}, {}
    for name, job in coming.items():
        use, _ = shop.uses(job, 401)
        truth[name] = _totals(shop.trade, job, use[0])
        costs, minutes = _totals(shop.trade, job, use[1:].T)
        knowing[name] = (float(np.median(costs)), float(np.median(minutes)))
    last = max((t.day for t in terms), default=0.0)
    receipts, counts = _shelf(shop, terms, real, last) if plan.count_every else ((), ())
    hours = _hours(terms, real, last, plan.hours_every) if plan.hours_every else ()
    history = History(shop.trade, tuple(terms), tuple(logs), receipts, counts, hours)
    return MadeUp(history, coming, truth, knowing, slips, dict(shop.k), dict(shop.spread), past)


def _totals(trade: Trade, terms: list[Term], use: np.ndarray) -> tuple[float, float]:
    """Material cost and minutes of a job from the use of its terms (terms first, any number of draws)."""
    price = np.array([trade.price(term.material, 0.0) for term in terms])
    timed = np.array([term.material == MINUTES for term in terms], dtype=float)
    return price @ use, timed @ use


def _write_down(shop: _Shop, term: Term, amount: float, mixes: float) -> tuple[Log, float]:
    """The log as written, and by what it is off (0 where it is right)."""
    rng, labour = shop.rng, term.material == MINUTES
    step = 5.0 if labour else shop.trade.materials[term.material].log_step
    right = max(step, round(amount / step) * step)
    value = right
    if rng.random() < shop.plan.slips:
        if labour:
            value = float(rng.choice([right * rng.uniform(4, 15), right / 60, right * 0.4]))
        else:
            slip = rng.choice(5, p=[0.3, 0.2, 0.2, 0.1, 0.2])
            value = right * (0.001, 1 / 28.35, 1000.0, 28.35, 0.5)[slip]
        if shop.trade.whole(term.material):
            value = max(1.0, round(value))
    value = float(f"{value:.6g}")
    return Log(term.job, term.operation, term.material, value, mixes), value / right if value != right else 0.0


def _shelf(
    shop: _Shop, terms: list[Term], real: list[float], last: float
) -> tuple[tuple[Receipt, ...], tuple[ShelfCount, ...]]:
    """Deliveries when the shelf runs low, and counts at every so many days."""
    rng, every = shop.rng, shop.plan.count_every or 14.0
    used = defaultdict(list)
    for term, amount in zip(terms, real, strict=True):
        if term.material != MINUTES:
            used[term.material].append((term.day, amount * (1 + shop.unassigned[term.material])))
    receipts, counts = [], []
    for key, pack in shop.packs.items():
        material = shop.trade.materials[key]
        shelf, moves = pack, sorted(used[key])
        for number in range(int(last // every) + 1):
            end = number * every
            while moves and moves[0][0] <= end:
                when, amount = moves.pop(0)
                while shelf < amount + pack * 0.05:
                    receipts.append(Receipt(when - 0.001, key, pack))
                    shelf += pack
                shelf -= amount
            seen = shelf * math.exp(rng.normal(0, _COUNT_ERROR))
            counts.append(ShelfCount(end, key, max(0.0, round(seen / material.count_step) * material.count_step)))
    return tuple(receipts), tuple(counts)


def _hours(terms: list[Term], real: list[float], last: float, every: float) -> tuple[Hours, ...]:
    """Totals of bench hours of each worker, to five minutes."""
    totals: dict[tuple[str, int], float] = defaultdict(float)
    for term, amount in zip(terms, real, strict=True):
        if term.material == MINUTES and term.day <= last // every * every:
            totals[term.worker, math.ceil(term.day / every) - 1] += amount
    return tuple(
        Hours(number * every + 1e-6, (number + 1) * every, worker, round(total * 1.03 / 5) * 5.0)
        for (worker, number), total in sorted(totals.items())
        if total > 2.5
    )


def without(shop: MadeUp, *, logs: bool = False, counts: bool = False) -> MadeUp:
    """The same shop where logs or counts were never written down."""
    history = shop.history
    if logs:
        history = replace(history, logs=())
    if counts:
        history = replace(history, counts=(), receipts=())
    return replace(shop, history=history)


def righted(shop: MadeUp) -> MadeUp:
    """The same shop where every slip was put right, whatever it was."""
    slips = shop.slips
    keys = [(log.job, log.operation, log.material) for log in shop.history.logs]
    logs = [
        log._replace(value=log.value / slips.get(key, 1.0)) for log, key in zip(shop.history.logs, keys, strict=True)
    ]
    return replace(shop, history=replace(shop.history, logs=tuple(logs)), slips={})
