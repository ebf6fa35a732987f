"""What this shop's own jobs taught: rows gathered into the pure learning, and what came of it kept for estimates.

Rooms: `standard` (old plans by the own figures of now), `rows` (what jobs left behind), `gathering` (the history of the
learning), `figures` (what estimates take of it), `keeping` (the fit and its row), `reading` (what screens ask),
`doubting` (what was written down wrongly, it seems), `backtesting` (what learning was worth), `sessions` (how many
boards were done together). Estimates read the row alone; the quote keeps the factors it was made with.
"""

from quotes.experience.backtesting import (
    WALKED_AT_NIGHT,
    WALKED_AT_ONCE,
    Walked,
    backtest,
    backtest_at_night,
    finished_jobs,
    finished_since,
    keep_backtest,
    kept_backtest,
    renew,
)
from quotes.experience.doubting import InDoubt, doubts_on
from quotes.experience.gathering import Gathered, ask_terms, gather
from quotes.experience.hours import forget_hours, note_hours
from quotes.experience.reading import (
    LearnedFigure,
    LogPoint,
    LogWanted,
    Present,
    again_of,
    ask,
    current_state,
    logged_points,
    made_now,
    own_figure,
    own_figures,
    question_of_the_day,
    tags,
    wave_away,
)
from quotes.experience.refit import (
    LEARNED_AT_ONCE,
    LEARNED_WHILE_WAITING,
    experience,
    hourly,
    learn,
    learn_by_own_figures,
    learn_now,
    learn_or_mark,
    mark_stale,
    size,
    waiting,
    waits,
)
from quotes.experience.sessions import boards_seen

__all__ = [
    "LEARNED_AT_ONCE",
    "LEARNED_WHILE_WAITING",
    "WALKED_AT_NIGHT",
    "WALKED_AT_ONCE",
    "Gathered",
    "InDoubt",
    "LearnedFigure",
    "LogPoint",
    "LogWanted",
    "Present",
    "Walked",
    "again_of",
    "ask",
    "ask_terms",
    "backtest",
    "backtest_at_night",
    "boards_seen",
    "current_state",
    "doubts_on",
    "experience",
    "finished_jobs",
    "finished_since",
    "forget_hours",
    "gather",
    "hourly",
    "keep_backtest",
    "kept_backtest",
    "learn",
    "learn_by_own_figures",
    "learn_now",
    "learn_or_mark",
    "logged_points",
    "made_now",
    "mark_stale",
    "note_hours",
    "own_figure",
    "own_figures",
    "question_of_the_day",
    "renew",
    "size",
    "tags",
    "waiting",
    "waits",
    "wave_away",
]
