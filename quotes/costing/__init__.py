"""The costing core: frozen inputs in, one frozen result out. No Django, no clock, no chance, no files.

    measures → places → operations → needs → expected use → cost → price, with the steps to do it

`estimate` is the one entry. Everything it can be asked afterwards (why, how sure, what moves it, when it is ready)
reads its result.
"""

from __future__ import annotations

from quotes.costing.board import BoardEstimate, Choice, Damage, estimate_board, told_apart
from quotes.costing.buildup import Node, cost_tree
from quotes.costing.calibrating import CALIBRATED, Calibration, Known, NoCalibration, calibrate
from quotes.costing.constants import CONSTANTS, Constant, check_own
from quotes.costing.estimated import Estimate
from quotes.costing.guesses import Guessed, guessed, guessed_in
from quotes.costing.inputs import Construction, Material, Price, Pricing, Shop
from quotes.costing.lateness import sand_first
from quotes.costing.looking_again import Now, look_again
from quotes.costing.measures import Given, Measure
from quotes.costing.moving import Mover, what_moves
from quotes.costing.operations import REGISTRY
from quotes.costing.pricing import (
    Priced,
    at_price,
    earned_per_hour,
    overhead_rate,
    price,
    price_way,
)
from quotes.costing.recipe import Act, Recipe
from quotes.costing.refusing import Refusal
from quotes.costing.result import Problem
from quotes.costing.risk import Risk, risk
from quotes.costing.schedule import Slot, Timed, lay_out, place_in_days
from quotes.costing.sessions import VISITS, boards_together, together_in_words
from quotes.costing.starting import STARTING_RECIPES
from quotes.costing.usage import Factor
from quotes.costing.working import estimate

__all__ = [
    "CALIBRATED",
    "CONSTANTS",
    "REGISTRY",
    "STARTING_RECIPES",
    "VISITS",
    "Act",
    "BoardEstimate",
    "Calibration",
    "Choice",
    "Constant",
    "Construction",
    "Damage",
    "Estimate",
    "Factor",
    "Given",
    "Guessed",
    "Known",
    "Material",
    "Measure",
    "Mover",
    "NoCalibration",
    "Node",
    "Now",
    "Price",
    "Priced",
    "Pricing",
    "Problem",
    "Recipe",
    "Refusal",
    "Risk",
    "Shop",
    "Slot",
    "Timed",
    "at_price",
    "boards_together",
    "calibrate",
    "check_own",
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
    "risk",
    "sand_first",
    "together_in_words",
    "told_apart",
    "what_moves",
]
