"""What goes home with a board: how to treat it once it is mended, or, after a stop, that it is not and what is open."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from quotes.bench.job.change_orders import left_undone
from quotes.bench.job.charges import stopped
from quotes.bench.job.release import RELEASE
from quotes.bench.steps.words import clock_words
from quotes.models import Extra, Job, Step
from shop.models import Profile
from shop.papers.paper import plain_head, render

# Where no recipe of the job says anything of its own; common practice, no source.
USUAL = ("Keep the board out of the sun and out of a hot car for a week.",)

# Of a board whose repair was stopped; common practice, no source.
NOT_CLOSED = (
    "Keep it out of the sea and the rain, and do not rinse it: until the place is closed, water runs into the foam.",
    "Keep it dry, in the shade and out of a hot car, on its rails or with the open place down, so that air gets to it.",
    "Put no weight on it: where glass is missing or thin the board breaks sooner.",
    "Cut glass is sharp and its dust itches: keep bare hands and children off the place.",
)
WET = "It was wet at the damage. Let it dry out before anybody closes it, and do not tape it shut until then."
DRY = "If it must travel, cover the place with clean tape and take the tape off again when it is back under a roof."

# What the house's checks come to for who surfs the board. A line of the shop's own stays as it wrote it.
FOR_A_SURFER = {
    "Repair pressed all over: hard, no soft spot": "The repair, pressed all over: it is hard, with no soft spot.",
    "What was left with the board lies with it": "What you left with the board lies with it.",
    "Colour and sheen beside the old": "The colour and the shine of the repair beside the rest of the board.",
    "No sharp edge, no pinhole": "The surface: no sharp edge to cut you, no tiny hole to let water in.",
    "Alignment and outline": "The shape of the board: it runs on over the repair as it was.",
    "Weight": "How heavy the board is now.",
    "No soft spot, no white edge": "The repair is hard all over, and has stuck everywhere along its edge.",
    "Rocker and twist with winding sticks": "The curve from nose to tail, and that the board is not twisted.",
    "Joint does not move under a knee": "The mended break, with weight put on it: it does not move.",
    "Rocker against a straight-edge": "The curve from nose to tail.",
    "Crease does not move under a knee": "The mended crease, with weight put on it: it does not move.",
    "No hollow sound": "The place, tapped all over: it does not sound hollow.",
    "Weight steady for two days before it was closed": "The foam dried until the board had lost no more weight for two days.",
    "Fin pulled by hand, both ways": "The fin, pulled hard by hand to both sides: it does not move.",
    "Toe and cant against the other fin": "The angles of the fin beside those of the other fin.",
    "Fillet even, no white spots": "The resin round the foot of the fin: it is even and without gaps.",
    "Fin tried in the box, screws turn": "A fin tried in the box: it fits, and its screws turn.",
    "Tab no deeper than the box": "The foot of a fin goes no deeper than its box.",
    "Plug pulled by hand": "The leash plug, pulled hard by hand: it holds.",
    "Bar holds a leash string": "The bar across the plug holds a leash string.",
}


def pdf(job: Job, *, profile: Profile) -> bytes:
    """The PDF bytes of the sheet of an ended job; made anew whenever it is asked for."""
    stop = stopped(job)
    if stop is not None:
        return render("papers/stopped.html", stopped_context(job, stop, profile))
    context: dict[str, Any] = {
        **plain_head(profile, f"Aftercare {job.takein.tag}"),
        "job": job,
        "takein": job.takein,
        "lines": aftercare_of(job),
        "checked": [FOR_A_SURFER.get(check["line"], check["line"]) for check in job.release_check if check["ok"]],
    }
    return render("papers/aftercare.html", context)


def aftercare_of(job: Job) -> list[str]:
    """The aftercare of each recipe that was done, each sentence once; the shop's usual where none says any."""
    lists = [part.estimate.aftercare for part in job.repairs_done()]
    return list(dict.fromkeys(line for lines in lists for line in lines)) or list(USUAL)


def stopped_context(job: Job, stop: Extra, profile: Profile) -> dict[str, Any]:
    """What the sheet of a stopped job shows: what was done, what is still to be done, and how to keep it until then."""
    undone = left_undone(job)
    cures = [step.earliest_at for step in undone if step.earliest_at and step.earliest_at > stop.found_at]
    wet = job.takein.wet
    return {
        **plain_head(profile, f"Not finished {job.takein.tag}"),
        "job": job,
        "takein": job.takein,
        "board": job.takein.board,
        "damages": list(job.takein.damages.all()),
        "stop": stop,
        "on": timezone.localdate(stop.found_at),
        "done": _titles(job.steps.filter(state=Step.State.DONE).order_by("position")),
        "undone": _titles(step for step in undone if step.operation != RELEASE),
        "soft_until": clock_words(max(cures)) if cures else "",
        "keep": [*NOT_CLOSED, WET if wet else DRY],
    }


def _titles(steps: Any) -> list[str]:
    return list(dict.fromkeys(step.title for step in steps))
