"""Ready days from rows: the state of the bench as the planner wants it, what a day promised rests on, looking again.

    rows → state of the bench (`bench_state`) → the planner → kept: on a way, behind a promise, in the outlook

Invariant: draws are made by acts and kept; pages read. What the shop knows of itself is in `figures`, each with
where it started and how far it may lie.
"""
