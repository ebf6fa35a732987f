"""Looking back at finished jobs: actual cost against the quoted, and why they differ."""

from quotes.lookback.kept import PastPromise, PromisesKept, RecipeKept, SaidChance, promises_kept
from quotes.lookback.late import LateCause, LateFacts, causes_of_all, what_made_late
from quotes.lookback.late_rows import late_facts
from quotes.lookback.past import Past, ended, looked_back
from quotes.lookback.promises import day_kept, past_promises
from quotes.lookback.repairs import RepairCost, cost_of_repairs
from quotes.lookback.summary import Overall, RecipeEarned, kinds, overall
from quotes.lookback.truth import Truth, job_truth
from quotes.lookback.variances import Compared, compared, operation_name

__all__ = [
    "Compared",
    "LateCause",
    "LateFacts",
    "Overall",
    "Past",
    "PastPromise",
    "PromisesKept",
    "RecipeEarned",
    "RecipeKept",
    "RepairCost",
    "SaidChance",
    "Truth",
    "causes_of_all",
    "compared",
    "cost_of_repairs",
    "day_kept",
    "ended",
    "job_truth",
    "kinds",
    "late_facts",
    "looked_back",
    "operation_name",
    "overall",
    "past_promises",
    "promises_kept",
    "what_made_late",
]
