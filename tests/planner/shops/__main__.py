"""`python -m tests.planner.shops [SHOPS [DRAWS [JOBS]]]`: are promises of eight in ten kept where truth is hidden?

Prints each shop and all of them, as shops are and with each trouble, beside what hours added up would need. Half an
hour for 40 shops and 52 draws. Same numbers, same table.
"""

from __future__ import annotations

import os
import sys

from tests.planner.shops.score import JOBS, SHOPS, TROUBLES, Lived, added_up_as_often, kept, lives, mean_days, said

DRAWS = 52
HEAD = f"{'shop':>6}{'load':>6}{'people':>8}{'rack':>6}{'promised':>10}{'took':>7}{'said':>7}{'kept':>7}"
KEPT = (0.78, 0.90)
KEPT_IN_A_SHOP = (0.68, 0.97)


def main() -> int:
    """Prints the tables; 1 if something lies outside what is asked."""
    given = [int(each) for each in sys.argv[1:]]
    shops, draws, jobs = [*given, *(SHOPS, DRAWS, JOBS)[len(given) :]]
    say(f"{shops} shops of {jobs} jobs, {draws} draws a promise; days are of the calendar")
    missed = 0
    for name, trouble in TROUBLES.items():
        say(f"\n{name}\n{HEAD}")
        lived = []
        for one in lives(range(shops), trouble, draws, jobs, os.cpu_count() or 1):
            lived.append(one)
            missed += row(one)
        missed += whole(lived)
    say(f"\n{missed} outside" if missed else "\nall within")
    return int(missed > 0)


def row(one: Lived) -> int:
    """A shop's line; 1 if it keeps less or more than a shop should."""
    low, high = KEPT_IN_A_SHOP
    rack = sum(each.rack for each in one.promises) / len(one.promises)
    took = sum(each.done for each in one.promises) / len(one.promises)
    out = not low <= one.kept <= high
    told = f"{one.number:>6}{one.load:>6.2f}{one.people:>8}{rack:>6.1f}{mean_days(one.promises):>10.1f}{took:>7.1f}"
    say(f"{told}{said(one.promises):>7.0%}{one.kept:>7.0%}{'  outside' if out else ''}")
    return int(out)


def whole(lived: list[Lived]) -> int:
    """The line of all shops; how many figures are outside."""
    promises = [each for one in lived for each in one.promises]
    share, days, other = kept(promises), mean_days(promises), added_up_as_often(promises)
    outside = [not KEPT[0] <= share <= KEPT[1], days > other.mean]
    say(
        f"   all: said {said(promises):.1%}, kept {share:.1%}, {days:.2f} days promised; hours added up, as often kept,"
    )
    say(
        f"        need {other.mean:.2f} (times {other.factor:.1f} and {other.more:.2f} more): {days / other.mean:.2f} of it"
    )
    say("        outside" if any(outside) else "        within")
    return sum(outside)


def say(told: str) -> None:
    print(told, flush=True)  # noqa: T201


if __name__ == "__main__":
    sys.exit(main())
