"""Ready days on the command line: `promise` of the rack as it is now, `promise --bench FILE|FOLDER --json` of a state.

A state is told in the neutral form of `quotes.planner.reading`; a folder answers by file name without its ending. The
rack's jobs go by their tags.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from quotes.planner import DRAWS, BenchState, WrongState, forecast, from_json, plan_of_day
from quotes.ready_days.rack_state import bench_now
from shop.models import Profile


class Command(BaseCommand):
    help = "Plays the bench forward and says on which day each board is ready, with its chance, and what is next today."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--bench", type=Path, metavar="FILE|FOLDER", help="a state of the shop, or a folder of them"
        )
        parser.add_argument("--draws", type=int, default=DRAWS, help=f"how many futures are played ({DRAWS})")
        parser.add_argument("--json", action="store_true", help="one JSON object")

    def handle(self, **options: Any) -> None:
        bench: Path | None = options["bench"]
        if options["draws"] < 1:
            raise CommandError("At least one future has to be played: give --draws a number of one or more.")
        if bench is None:
            told = of_the_rack(options["draws"])
        elif bench.is_dir():
            told = {path.stem: answer(path, options["draws"]) for path in sorted(bench.glob("*.json"))}
            if not told:
                raise CommandError(f"There is no state in {bench}: they are files that end in .json.")
        else:
            told = answer(bench, options["draws"])
        if options["json"]:
            self.stdout.write(json.dumps(told, indent=1, ensure_ascii=False))
            return
        for name, one in told.items() if bench and bench.is_dir() else [("", told)]:
            self.say(name, one)

    def say(self, name: str, told: dict[str, Any]) -> None:
        """An answer in lines."""
        if name:
            self.stdout.write(name)
        for caution in told.get("cautions", []):
            self.stdout.write(f"  {caution}")
        for job in told["jobs"]:
            chance = "no day promised" if job["chance"] is None else f"the promise holds {job['chance']:.0%}"
            days = f"even {job['q50']}, eight in ten {job['q80']}, nine in ten {job['q90']}"
            self.stdout.write(f"  job {job['job']}: {days}; {chance}")
        for step in told["today"]:
            self.stdout.write(f"  {step['from']} {step['person']}: job {step['job']}, step {step['step']}")


def answer(path: Path, draws: int) -> dict[str, Any]:
    """Days, chances and the plan of the day of the state in a file; `cautions` only where something is odd."""
    try:
        state = from_json(json.loads(path.read_text(encoding="utf-8")))
    except OSError as wrong:
        raise CommandError(f"{path} can not be read: {wrong.strerror}.") from wrong
    except ValueError as wrong:
        raise CommandError(f"{path.name}: {told_wrong(wrong)}") from wrong
    return answered(state, draws)


def of_the_rack(draws: int) -> dict[str, Any]:
    """Days, chances and the plan of the day of the rack as it is now, jobs by their tag."""
    shop = Profile.objects.first()
    if shop is None:
        raise CommandError("There is no shop yet: start the service once and set it up.")
    try:
        bench = bench_now(timezone.now(), shop)
    except WrongState as wrong:
        raise CommandError(str(wrong)) from wrong
    told = answered(bench.state, draws)
    for step in told["today"]:
        named = bench.step_titles.get(step["step"])
        step |= {"step": named or step["step"], "person": bench.people.get(step["person"], step["person"])}
    return told | ({"cautions": [*bench.odd]} if bench.odd else {})


def answered(state: BenchState, draws: int) -> dict[str, Any]:
    """Days, chances and the plan of the day of a state; `cautions` only where something is odd."""
    found = forecast(state, draws)
    told: dict[str, Any] = {
        "ask": [found.ready(job).to_json() for job in state.ask],
        "jobs": [found.ready(board.job).to_json() for board in state.boards],
        "today": [step.to_json() for step in plan_of_day(state)],
    }
    return told | ({"cautions": state.cautions()} if state.cautions() else {})


def told_wrong(wrong: ValueError) -> str:
    """The sentence of a state that can not be used."""
    return str(wrong) if isinstance(wrong, WrongState) else f"It is no JSON: {wrong}."
