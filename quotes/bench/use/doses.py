"""The mixes that a step is planned with, as a bench scale reads them."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import NamedTuple

from quotes.costing.snapshot import PlannedMix
from quotes.costing.steps.temperature import ToldMix, told
from quotes.models import Step


class Dose(NamedTuple):
    """One mix as it is shown and weighed: grams of resin and of catalyst or hardener, as a bench scale reads.

    `for_c` is the temperature in °C that it is told for, None that of a quote which did not keep it. A dose that is
    `withheld` says why; its grams are then the quote's and told to nobody.
    """

    which: int
    resin: str
    resin_g: Decimal
    hardener: str
    hardener_g: Decimal | None
    count: int  # type: ignore[assignment] # a tuple has a method of that name, which nobody asks here
    plan: PlannedMix
    for_c: float | None = None
    withheld: str = ""

    def hardener_for(self, resin_g: Decimal) -> Decimal | None:
        """What hardens so many grams of resin, in the plan's own proportion and not that of two scale readings.

        To the hundredth of a gram; None where the mix shows no catalyst or hardener, or is withheld.
        """
        grams = self.plan.hardens_g
        if self.withheld or self.hardener_g is None or grams is None or not self.plan.resin_g:
            return None
        share = Decimal(str(grams)) / Decimal(str(self.plan.resin_g))
        return (resin_g * share).quantize(Decimal("0.01"), ROUND_HALF_UP)


def doses(step: Step, warmth: Decimal | float | None = None) -> list[Dose]:
    """The mixes of a step in scale readings: whole grams, tenths below ten grams, hundredths of catalyst.

    Told for a shop of so many °C; None is as quoted.
    """
    celsius = None if warmth is None else float(warmth)
    return [_dose(which, told(plan, celsius)) for which, plan in enumerate(step.planned.mixes)]


def _dose(which: int, said: ToldMix) -> Dose:
    plan = said.mix
    resin_g = _reading(plan.resin_g, "1" if plan.resin_g >= 10 else "0.1")
    grams = plan.hardens_g
    hardener_g = None if not plan.hardener or grams is None else _reading(grams, "0.01" if grams < 5 else "0.1")
    return Dose(which, plan.resin, resin_g, plan.hardener, hardener_g, plan.count, plan, said.for_c, said.withheld)


def _reading(grams: float, step: str) -> Decimal:
    return max(Decimal(str(grams)).quantize(Decimal(step), ROUND_HALF_UP), Decimal(step))
