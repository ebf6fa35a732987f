"""What every page stands on: who may open it, one record for a form, what comes in, what every page shows."""
