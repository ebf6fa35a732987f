"""The bench: an agreed way becomes a job, its steps are done, what changes is agreed, and the board goes home."""

from quotes.bench.accepting import accept_way
from quotes.bench.changing import (
    absorb_extra,
    answer_extra,
    note_found,
    price_extra,
    propose_another_way,
    stop_job,
)
from quotes.bench.charges import Charges, agreed_total, charged, charges, suggested_stop
from quotes.bench.correcting import correct_minutes, correct_use, said_right
from quotes.bench.lateness import put_in_sanding
from quotes.bench.leaving import (
    RELEASE,
    Can,
    can_finish_job,
    can_pick_up,
    can_start,
    finish_job,
    open_extras,
    owed,
    pick_up,
    release_lines,
    standing_invoice,
)
from quotes.bench.order import following, heads, late, next_step, waits
from quotes.bench.sheet import print_sheet
from quotes.bench.stepping import (
    drop_step,
    finish_step,
    planned_minutes,
    redo_step,
    reopen_step,
    start_step,
)
from quotes.bench.together import Together, together_now, together_with
from quotes.bench.using import (
    Dose,
    Planned,
    doses,
    planned_and_used,
    record_mix,
    record_use,
    undo_use,
    use_as_planned,
    uses_of,
)
from quotes.bench.words import cautions, instruction, next_window_words, shown_doses, window_words

__all__ = [
    "RELEASE",
    "Can",
    "Charges",
    "Dose",
    "Planned",
    "Together",
    "absorb_extra",
    "accept_way",
    "agreed_total",
    "answer_extra",
    "can_finish_job",
    "can_pick_up",
    "can_start",
    "cautions",
    "charged",
    "charges",
    "correct_minutes",
    "correct_use",
    "doses",
    "drop_step",
    "finish_job",
    "finish_step",
    "following",
    "heads",
    "instruction",
    "late",
    "next_step",
    "next_window_words",
    "note_found",
    "open_extras",
    "owed",
    "pick_up",
    "planned_and_used",
    "planned_minutes",
    "price_extra",
    "print_sheet",
    "propose_another_way",
    "put_in_sanding",
    "record_mix",
    "record_use",
    "redo_step",
    "release_lines",
    "reopen_step",
    "said_right",
    "shown_doses",
    "standing_invoice",
    "start_step",
    "stop_job",
    "suggested_stop",
    "together_now",
    "together_with",
    "undo_use",
    "use_as_planned",
    "uses_of",
    "waits",
    "window_words",
]
