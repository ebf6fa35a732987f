"""Take-in → ways → quote: the verbs, in the order a board meets them."""

from quotes.models import WAYS_AT_MOST
from quotes.quoting.conditions import conditions_now, refused_of_way, taken_by, what_to_do
from quotes.quoting.content import content_of
from quotes.quoting.drafting import add_board, day_may_be, day_to_promise, edit_quote, recompute, start_quote, ways_of
from quotes.quoting.hand_lines import add_line, edit_line, remove_line
from quotes.quoting.lacking import Missing, missing_once
from quotes.quoting.repairs import PARTS, board_of, hand_lines, parts_of, set_ups_in_words
from quotes.quoting.sending import agree, decline_quote, missing, replace_quote, send_quote
from quotes.quoting.takein import (
    TAKE_IN_CHECK,
    add_damage,
    edit_damage,
    edit_take_in,
    hand_back,
    remove_damage,
    shop_day,
    take_in,
)
from quotes.quoting.ways import (
    add_part,
    add_way,
    edit_part,
    edit_way,
    leave_to_customer,
    move_way_up,
    remove_part,
    remove_way,
)

__all__ = [
    "PARTS",
    "TAKE_IN_CHECK",
    "WAYS_AT_MOST",
    "Missing",
    "add_board",
    "add_damage",
    "add_line",
    "add_part",
    "add_way",
    "agree",
    "board_of",
    "conditions_now",
    "content_of",
    "day_may_be",
    "day_to_promise",
    "decline_quote",
    "edit_damage",
    "edit_line",
    "edit_part",
    "edit_quote",
    "edit_take_in",
    "edit_way",
    "hand_back",
    "hand_lines",
    "leave_to_customer",
    "missing",
    "missing_once",
    "move_way_up",
    "parts_of",
    "recompute",
    "refused_of_way",
    "remove_damage",
    "remove_line",
    "remove_part",
    "remove_way",
    "replace_quote",
    "send_quote",
    "set_ups_in_words",
    "shop_day",
    "start_quote",
    "take_in",
    "taken_by",
    "ways_of",
    "what_to_do",
]
