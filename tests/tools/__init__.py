"""Programs for whoever works on the code, none of them a test: speed, pictures of README, learning in the large.

What they share with tests stands there: the simulator of shops and its scoring in `tests/learning`, the rows of the
walk in `tests/*/walk.py`.
"""
