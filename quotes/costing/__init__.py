"""The costing core: frozen inputs in, one frozen result out. No Django, no clock, no chance, no files.

    measures → places → operations → needs → expected use → cost → price, with the steps to do it

`estimate` is the one entry. Everything it can be asked afterwards (why, how sure, what moves it, when it is ready)
reads its result.
"""

from __future__ import annotations

from quotes.costing.basis.constants import CONSTANTS, Constant, check_own
from quotes.costing.job.board import BoardEstimate, Choice, CoreDamage, estimate_board, split_price
from quotes.costing.job.calibration import CALIBRATED, Calibration, KnownJob, NoCalibration, calibrate
from quotes.costing.job.damage import estimate
from quotes.costing.job.estimated import Estimate
from quotes.costing.job.looking_again import Now, look_again
from quotes.costing.job.missed_window import sand_first
from quotes.costing.money.cost_risk import CostRisk, cost_risk
from quotes.costing.money.pricing import Priced, at_price, earned_per_hour, overhead_rate, price, price_way
from quotes.costing.operations import REGISTRY
from quotes.costing.parts.guessed_prices import Guessed, guessed, guessed_in
from quotes.costing.parts.inputs import Construction, CoreMaterial, Price, Pricing, Shop
from quotes.costing.parts.measures import Given, Measure
from quotes.costing.parts.refusals import Refusal
from quotes.costing.parts.schedule import Slot, Timed, lay_out, place_in_days
from quotes.costing.parts.usage import UsageFactor
from quotes.costing.recipes.recipe import CoreRecipe, RecipeStep
from quotes.costing.recipes.starting import STARTING_RECIPES
from quotes.costing.snapshot import NO_SNAPSHOT, PlannedStep, Problem, Remedy, Snapshot
from quotes.costing.steps.sessions import VISITS, boards_together, together_in_words
from quotes.costing.why.buildup import Node, cost_tree
from quotes.costing.why.sensitivity import Sensitivity, sensitivities

__all__ = [
    "CALIBRATED",
    "CONSTANTS",
    "NO_SNAPSHOT",
    "REGISTRY",
    "STARTING_RECIPES",
    "VISITS",
    "BoardEstimate",
    "Calibration",
    "Choice",
    "Constant",
    "Construction",
    "CoreDamage",
    "CoreMaterial",
    "CoreRecipe",
    "CostRisk",
    "Estimate",
    "Given",
    "Guessed",
    "KnownJob",
    "Measure",
    "NoCalibration",
    "Node",
    "Now",
    "PlannedStep",
    "Price",
    "Priced",
    "Pricing",
    "Problem",
    "RecipeStep",
    "Refusal",
    "Remedy",
    "Sensitivity",
    "Shop",
    "Slot",
    "Snapshot",
    "Timed",
    "UsageFactor",
    "at_price",
    "boards_together",
    "calibrate",
    "check_own",
    "cost_risk",
    "cost_tree",
    "earned_per_hour",
    "estimate",
    "estimate_board",
    "guessed",
    "guessed_in",
    "lay_out",
    "look_again",
    "overhead_rate",
    "place_in_days",
    "price",
    "price_way",
    "sand_first",
    "sensitivities",
    "split_price",
    "together_in_words",
]
