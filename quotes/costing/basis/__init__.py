"""The ground of the core: figures with their sources, words, places, settings, days. Knows nothing above it."""
