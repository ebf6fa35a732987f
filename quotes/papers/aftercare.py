"""What goes home with a mended board: what was done, what was looked at before it left, and how to treat it."""

from __future__ import annotations

from typing import Any

from quotes.models import Job, Step
from shop.models import Profile
from shop.paper import plain_head, render

# Where no recipe of the job says anything of its own; common practice, no source.
USUAL = ("Keep the board out of the sun and out of a hot car for a week.",)


def pdf(job: Job, *, profile: Profile) -> bytes:
    """The PDF bytes of a job's aftercare sheet; made anew whenever it is asked for."""
    context: dict[str, Any] = {
        **plain_head(profile, f"Aftercare {job.takein.tag}"),
        "job": job,
        "takein": job.takein,
        "lines": aftercare_of(job),
        "checked": [check["line"] for check in job.release_check if check["ok"]],
    }
    return render("papers/aftercare.html", context)


def aftercare_of(job: Job) -> list[str]:
    """The aftercare of each recipe that was done, each sentence once; the shop's usual where none says any."""
    done = {step.part_id: step.part for step in job.steps.exclude(state=Step.State.DROPPED).select_related("part")}
    lists = [part.snapshot.get("aftercare") or () for part in done.values() if part is not None]
    return list(dict.fromkeys(line for lines in lists for line in lines)) or list(USUAL)
