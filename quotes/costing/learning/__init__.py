"""What a job really takes, learned from this shop's own jobs.

Idea: need × factor × job-to-job spread + what stays in the cup is what a step uses up. The factors, cup losses, what no
job used, and the shifts of a second worker or a new brand are one normal state in logarithms; logs, counts and totals
of hours move it, trade defaults are where it starts. Without logs the estimate stays at the trade default; only its
range is wider.

Rooms, each standing on those before it: `assumptions` (every constant), `normal` (laws without SciPy), `history` (what
is known), `csv_rows`, `interchange`, `export` (the history as CSV text), `layout` (what each entry of the state means),
`lines` (steps as columns), `logs` and `spans` (what they say), `equations`, `spreads`, `evidence`, `state`,
`plausibility` (what may reach a price), `fit`, `forecast`, `entry_errors` and `doubts`, `questions` (what to ask next),
`rework` (work done twice), `variances`, `coverage` (how often ranges hold), `backtest`.
Invariant: no clock, no chance, no files; the same history gives the same state to the last digit.
"""
