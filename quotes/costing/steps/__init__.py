"""One step of work: mix, cure, window, session, and what temperature does to them."""
