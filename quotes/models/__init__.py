"""The rows of quotes, one file a subject."""

from quotes.models.document import Document
from quotes.models.experience import BACKTEST_VERSION, LEARNED_VERSION, Backtest, BenchHours, Experience
from quotes.models.extra import Extra, JobSheet
from quotes.models.factor import Factor
from quotes.models.invoice import Invoice, InvoiceLine, Payment
from quotes.models.job import Cause, Job, Mix, Step, StepReservation, StepTime, StepUse, Warmth
from quotes.models.pricelist import PRICE_ROWS_AT_MOST, PriceListPrint, PriceListRow
from quotes.models.promise import KeptState, Outlook, Promise
from quotes.models.quote import WAYS_AT_MOST, Quote, QuoteBoard, Way, WayLine, WayPart
from quotes.models.recipe import Recipe, RecipeDraft, RecipeVersion
from quotes.models.takein import Damage, TakeIn
from quotes.models.tax_point import TaxPoint

__all__ = [
    "BACKTEST_VERSION",
    "LEARNED_VERSION",
    "PRICE_ROWS_AT_MOST",
    "WAYS_AT_MOST",
    "Backtest",
    "BenchHours",
    "Cause",
    "Damage",
    "Document",
    "Experience",
    "Extra",
    "Factor",
    "Invoice",
    "InvoiceLine",
    "Job",
    "JobSheet",
    "KeptState",
    "Mix",
    "Outlook",
    "Payment",
    "PriceListPrint",
    "PriceListRow",
    "Promise",
    "Quote",
    "QuoteBoard",
    "Recipe",
    "RecipeDraft",
    "RecipeVersion",
    "Step",
    "StepReservation",
    "StepTime",
    "StepUse",
    "TakeIn",
    "TaxPoint",
    "Warmth",
    "Way",
    "WayLine",
    "WayPart",
]
