"""What a made-up shop really is. Minutes are middles, spreads are sd of a logarithm, lengths of waits are in hours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp
from random import Random

Hours = tuple[tuple[int, int], ...]
"""Spans of a day, in minutes after midnight."""


@dataclass(frozen=True)
class TrueStep:
    """A step of a kind of job: `word` says what is done, and what is done alike has one pace and one spread."""

    word: str
    minutes: float
    cure_h: float = 0.0
    bonds_h: float | None = None
    sand_min: float = 0.0
    coats: bool = False
    cuts: bool = False
    may_stop: bool = False


@dataclass(frozen=True)
class Trouble:
    """How often the shop is troubled: days away, steps done again, minutes it believes at first over the true ones."""

    away: float = 0.015
    again: float = 0.005
    believed: float = 1.0


@dataclass(frozen=True)
class HiddenShop:
    """A shop as it is. `rate`: jobs on a day worked; `lost`, `busy`: by weekday; `cure_pace`: true cures over told."""

    seed: int
    load: float
    trouble: Trouble
    week: tuple[Hours, ...]
    people: int
    kinds: tuple[tuple[TrueStep, ...], ...]
    shares: tuple[float, ...]
    found: tuple[TrueStep, ...]
    spread: dict[str, float]
    job_spread: float
    cure_spread: float
    cure_pace: float
    lost: tuple[float, ...]
    lost_spread: float
    rings_wait: float
    busy: tuple[float, ...]
    rate: float
    rush: float
    turns_up: float
    answer_h: float
    answer_spread: float
    odd: float

    @property
    def days_a_week(self) -> int:
        return sum(bool(hours) for hours in self.week)

    def open_minutes(self, weekday: int) -> int:
        return sum(end - begin for begin, end in self.week[weekday])


WORDS = ("take in", "cut", "fill", "laminate", "coat", "sand", "gloss", "polish", "look")
WEEKS = {
    "five days": ([(540, 750), (780, 1020)], "11111 "),
    "with Saturday": ([(570, 765), (810, 1050)], " 11112"),
    "short days": ([(540, 780), (810, 930)], "11111 "),
    "four long days": ([(480, 720), (765, 1095)], " 1111 "),
}
SATURDAY = ((570, 780),)


def made(seed: int, load: float, trouble: Trouble = Trouble()) -> HiddenShop:
    """A shop of a seed, whose hands are needed for the share `load` of the hours they have."""
    rng = Random(f"shop {seed}")
    hours, pattern = rng.choice(list(WEEKS.values()))
    week = tuple({" ": (), "1": tuple(hours), "2": SATURDAY}[day] for day in f"{pattern:<7}")
    kinds = tuple(_kind(rng) for _ in range(rng.randint(3, 6)))
    weights = [rng.uniform(0.3, 1.0) for _ in kinds]
    lost = rng.uniform(0.12, 0.35)
    busy = [rng.uniform(0.6, 1.5) if day else 0.0 for day in week]
    total = sum(busy) / sum(bool(day) for day in week)
    shop = HiddenShop(
        seed=seed,
        load=load,
        trouble=trouble,
        week=week,
        people=rng.choice([1, 1, 2]),
        kinds=kinds,
        shares=tuple(weight / sum(weights) for weight in weights),
        found=(
            TrueStep("cut", rng.uniform(8, 20), cuts=True),
            TrueStep("fill", rng.uniform(15, 30), rng.uniform(2, 8)),
        ),
        spread={word: rng.uniform(0.18, 0.38) for word in WORDS},
        job_spread=rng.uniform(0.06, 0.18),
        cure_spread=rng.uniform(0.1, 0.25),
        cure_pace=exp(rng.gauss(0, 0.06)),
        lost=tuple(min(0.6, lost * rng.uniform(0.7, 1.3)) for _ in week),
        lost_spread=rng.uniform(0.3, 0.6),
        rings_wait=rng.uniform(0, 0.4),
        busy=tuple(each / total for each in busy),
        rate=1.0,
        rush=rng.uniform(0.02, 0.12),
        turns_up=rng.uniform(0.05, 0.22),
        answer_h=rng.uniform(4, 14),
        answer_spread=rng.uniform(0.8, 1.3),
        odd=rng.uniform(0.05, 0.18),
    )
    return _loaded(shop)


def _loaded(shop: HiddenShop) -> HiddenShop:
    """The shop with as many jobs a day as its load says: of what is left when who rings has been served."""
    jobs = [*zip(shop.shares, shop.kinds, strict=True), (shop.turns_up, shop.found)]
    resin = sum(share * _mean_minutes(shop, [step for step in kind if not step.may_stop]) for share, kind in jobs)
    a_job = sum(share * _mean_minutes(shop, kind) for share, kind in jobs)
    there = sum(shop.open_minutes(day) for day in range(7))
    lost = sum(shop.open_minutes(day) * share for day, share in enumerate(shop.lost)) / there
    unanswered = lost * (1 - shop.rings_wait) * resin / a_job
    busy = shop.load * (1 - lost) / (1 - shop.load * unanswered)
    a_week = shop.people * (1 - shop.trouble.away) * there * busy
    return replace(shop, rate=a_week / a_job / shop.days_a_week)


def _mean_minutes(shop: HiddenShop, steps: Sequence[TrueStep]) -> float:
    """Mean minutes of a job's steps, those done again among them."""
    mean = exp(shop.job_spread**2 / 2) / (1 - shop.trouble.again)
    return mean * sum(step.minutes * exp(shop.spread[step.word] ** 2 / 2) for step in steps)


def _kind(rng: Random) -> tuple[TrueStep, ...]:
    """A kind of job: opened, filled or laminated, coated, sanded, looked at."""
    size = exp(rng.gauss(0, 0.35))
    at_night = rng.uniform(6, 12)

    def minutes(low: float, high: float) -> float:
        return max(4.0, size * rng.uniform(low, high))

    steps = [TrueStep("take in", rng.uniform(5, 12)), TrueStep("cut", minutes(10, 28), cuts=True)]
    for _ in range(rng.choice([0, 1, 1, 2])):
        steps += [TrueStep("fill", minutes(12, 26), rng.uniform(2, 14)), TrueStep("cut", minutes(8, 20), cuts=True)]
    window = rng.choice([None, 12.0, 24.0])
    for _ in range(rng.choice([0, 1, 1, 2])):
        cure = rng.uniform(1, 4)
        steps.append(TrueStep("laminate", minutes(14, 32), cure, window, rng.uniform(4, 10), coats=True))
    steps.append(TrueStep("coat", minutes(6, 14), at_night, None, rng.uniform(4, 10), coats=True))
    steps.append(TrueStep("sand", minutes(18, 48), cuts=True, may_stop=True))
    if rng.random() < 0.35:
        steps.append(TrueStep("gloss", minutes(6, 14), rng.uniform(6, 20), None, 0.0, coats=True))
        steps.append(TrueStep("polish", minutes(15, 50), cuts=True, may_stop=True))
    steps.append(TrueStep("look", rng.uniform(6, 18)))
    return tuple(steps)
