"""The pictures of README: the real screens and papers of the demo, taken again by `make pictures`."""
