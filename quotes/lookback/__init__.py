"""Looking back at finished jobs: actual cost against the quoted, and why they differ."""

from quotes.lookback.past import Past, ended, looked_back
from quotes.lookback.repairs import RepairCost, cost_of_repairs
from quotes.lookback.summary import Overall, RecipeEarned, kinds, overall
from quotes.lookback.truth import Truth, job_truth
from quotes.lookback.variances import Compared, compared, operation_name

__all__ = [
    "Compared",
    "Overall",
    "Past",
    "RecipeEarned",
    "RepairCost",
    "Truth",
    "compared",
    "cost_of_repairs",
    "ended",
    "job_truth",
    "kinds",
    "looked_back",
    "operation_name",
    "overall",
]
