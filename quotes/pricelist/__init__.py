"""The wall price list: its rows, their prices on each construction, and what each print said."""

from quotes.pricelist.known import other_jobs, usual_jobs
from quotes.pricelist.prices import COLUMNS, Column, Move, PriceCell, PriceLine, WallPriceList, moved, price_list
from quotes.pricelist.printing import content_of, print_list
from quotes.pricelist.rows import add_row, change_row, load_starting_rows, move_row, remove_row

__all__ = [
    "COLUMNS",
    "Column",
    "Move",
    "PriceCell",
    "PriceLine",
    "WallPriceList",
    "add_row",
    "change_row",
    "content_of",
    "load_starting_rows",
    "move_row",
    "moved",
    "other_jobs",
    "price_list",
    "print_list",
    "remove_row",
    "usual_jobs",
]
