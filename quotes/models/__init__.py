"""The rows of quotes, one file a subject."""

from quotes.models.document import Document
from quotes.models.factor import Factor
from quotes.models.invoice import Invoice, InvoiceLine, Payment
from quotes.models.job import Cause, Extra, Job, JobSheet, Mix, Step, StepTime, StepUse
from quotes.models.quote import WAYS_AT_MOST, Quote, QuoteBoard, Way, WayLine, WayPart
from quotes.models.recipe import Recipe, RecipeVersion
from quotes.models.takein import Damage, TakeIn

__all__ = [
    "WAYS_AT_MOST",
    "Cause",
    "Damage",
    "Document",
    "Extra",
    "Factor",
    "Invoice",
    "InvoiceLine",
    "Job",
    "JobSheet",
    "Mix",
    "Payment",
    "Quote",
    "QuoteBoard",
    "Recipe",
    "RecipeVersion",
    "Step",
    "StepTime",
    "StepUse",
    "TakeIn",
    "Way",
    "WayLine",
    "WayPart",
]
