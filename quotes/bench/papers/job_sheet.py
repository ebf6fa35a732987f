"""The job sheet: the bench's own paper, read at arm's length and written on. It holds no price and no cost."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone
from django.utils.dateformat import format as day_words

from quotes.bench.job.release import release_lines
from quotes.bench.papers.cut import cut_shown
from quotes.bench.plan.looking import refused_ahead
from quotes.bench.plan.warmth import temperatures
from quotes.bench.steps.words import shown_doses, window_words
from quotes.bench.use.sundries import sundries_in_words, sundries_of
from quotes.costing import Refusal
from quotes.models import Job, Step
from shop.measures import units
from shop.models import Profile
from shop.papers.paper import render


def pdf(job: Job, *, at: datetime) -> bytes:
    """The PDF bytes of a job's sheet as the job stands at `at`. Raises PaperProblem if it cannot be set."""
    return render("papers/job_sheet.html", context(job, at=at))


def context(job: Job, *, at: datetime) -> dict[str, Any]:
    """What the template shows."""
    profile = Profile.objects.get()
    takein = job.takein
    steps = list(job.steps.exclude(state=Step.State.DROPPED).select_related("done_by", "part").order_by("position"))
    day = {step.pk: timezone.localdate(step.done_at or at) for step in steps}
    said = temperatures({*day.values(), timezone.localdate(at)})
    warmth = said.get(timezone.localdate(at))
    refused = refused_ahead(job, warmth) if job.on_the_bench else {}
    shared = _shared(job)
    damages = list(takein.damages.all())
    promised = f"ready by {day_words(job.promised_on, 'D j M Y')}" if job.promised_on else ""
    printed = f"printed {day_words(timezone.localtime(at), 'D j M Y, H:i')}"
    pinned = ", ".join(f"{damage.number} {damage.get_kind_display()}" for damage in damages)
    return {
        "paper": profile.paper,
        "lang": "en",
        "locale": profile.locale,
        "currency": profile.currency,
        "seller": {"name": profile.name, "address": ""},
        "document_name": f"Job sheet {takein.tag}",
        "document_lines": [line for line in (promised, printed) if line],
        "foot_words": f"Job sheet {takein.tag} · {takein.board.name} · {printed}",
        "job": job,
        "takein": takein,
        "board": takein.board,
        "damages": damages,
        "drawing_words": f"The board with its damages: {pinned}" if pinned else "The board",
        "made_of": f"core {takein.board.get_core_display()}, skin {takein.board.get_skin_display()}, "
        f"resin {takein.board.get_resin_display()}",
        "cautions": list(dict.fromkeys(text for step in steps for text in step.planned.cautions)),
        "steps": [
            _step(number, step, steps, at, profile.locale, said.get(day[step.pk]), refused.get(step.pk, ()), shared)
            for number, step in enumerate(steps, start=1)
        ],
        "at_hand": _at_hand(steps, shared, profile.locale),
        "sundries": [f"{line.title}: {sundries_in_words(line, profile.locale)}" for line in sundries_of(job)],
        "cut": cut_shown(
            [replace(step.planned, title=step.title) for step in steps if not step.done_at], profile.locale
        ),
        "release": release_lines(job),
    }


def _step(
    number: int,
    step: Step,
    steps: list[Step],
    at: datetime,
    locale: str,
    warmth: Decimal | None,
    refused: tuple[Refusal, ...],
    shared: Set[str],
) -> dict[str, Any]:
    """What is printed of a step; of one that must not be done the reason, and neither dose nor amounts."""
    after = next((each for each in steps[number:] if not set(each.repairs).isdisjoint(step.repairs)), None)
    return {
        "number": number,
        "title": step.title,
        "refused": list(dict.fromkeys(refusal.text for refusal in refused)),
        "words": "" if refused else step.to_do,
        "doses": [] if refused else shown_doses(step, locale, warmth, after),
        "window": window_words(step, at, warmth),
        "minutes": round(step.planned_minutes) or None,
        "cautions": ". ".join(dict.fromkeys(_first(text) for text in step.planned.cautions)),
        "note": step.note,
        "done": f"done {day_words(timezone.localtime(step.done_at), 'D j M, H:i')} by {step.done_by}"
        if step.done_at
        else "",
        "takes": "" if refused else _takes(step, shared, locale),
        "boxes": _boxes(step),
    }


def _takes(step: Step, shared: Set[str], locale: str) -> str:
    """What is cut or laid besides what is mixed; what the whole job shares stands at the head of the sheet."""
    apart = shared | {key for mix in step.planned.mixes for key in (mix.resin, mix.hardener)}
    taken = [one for one in step.planned.materials if one.planned and one.material not in apart]
    return ", ".join(_said(one.name, one.planned, one.unit, locale) for one in taken)


def _shared(job: Job) -> set[str]:
    """Keys of what is counted over the whole job: gloves, discs, solvent."""
    lines = [line for part in job.repairs_done() for line in part.estimate.lines]
    return {line.material for line in lines if line.shared and line.material}


def _at_hand(steps: list[Step], shared: Set[str], locale: str) -> str:
    """What the job takes in all of what it shares; less than a whole piece is not laid out."""
    sums: dict[str, tuple[str, str, float]] = {}
    for step in steps:
        for one in step.planned.materials:
            if one.material in shared and one.planned and (one.unit != "piece" or one.planned >= 1):
                before = sums.get(one.material, (one.name, one.unit, 0.0))
                sums[one.material] = (*before[:2], before[2] + one.planned)
    return ", ".join(_said(name, amount, unit, locale) for name, unit, amount in sums.values())


def _said(name: str, amount: float, unit: str, locale: str) -> str:
    if unit == "piece":
        return f"{round(amount)} × {name}" if amount == round(amount) else f"{amount:.1f} × {name}"
    return f"{units.show(amount, unit, locale=locale)} {name}"


def _boxes(step: Step) -> list[str]:
    """What is written in by hand: each mix as it was weighed, then the cloth, foam or roving that was cut."""
    boxes = []
    for dose in shown_doses(step):
        for turn in range(dose.count):
            which = f" {turn + 1}" if dose.count > 1 else ""
            boxes += [f"{what}{which}, g" for _, what in dose.amounts]
    return boxes


def _first(caution: str) -> str:
    return caution.split(":")[0].rstrip(".")
