"""What a job really takes, learned from this shop's own jobs.

Idea: need × factor × job-to-job spread + what stays in the cup is what a step uses up. The factors, cup losses, what no
job used, and the shifts of a second worker or a new brand are one normal state in logarithms; logs, counts and totals
of hours move it, trade defaults are where it starts. Nothing logged costs nothing but width.

Rooms, each standing on those before it: `assumptions` (every constant), `normal` (laws without SciPy), `history` (what
is known), `csv_rows`, `neutral`, `export` (the same as CSV text), `layout` (what each entry of the state means),
`lines` (steps as columns), `logs` and `shelf` (what they say), `equations`, `spreads`, `evidence`, `state`, `belief`
(what may reach a price), `fit`, `forecast`, `slips` and `doubts`, `questions` (what to ask next), `again` (work done
twice), `variances`, `looking_back`.
Invariant: no clock, no chance, no files; the same history gives the same state to the last digit.
"""
