"""Shops of our own whose truth is hidden from the planner: they live, ask it for days, and the days come true or not.

    truth.py       what a shop really is: kinds of jobs, pace, spreads, what is lost, who comes, what hands are like
    knows.py       what it knows of that, and the state in which it asks
    life.py        the shop minute by minute: a clock that ticks, where the planner jumps from event to event
    added_up.py    the old way to a day: hours added up
    score.py       of the days promised, how many were kept, and what hours added up need to be kept as often

Nothing here is taken from the planner but the types of a state and the question for a day.
"""
