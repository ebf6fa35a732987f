"""Why a price is what it is: its build-up, and what moves it."""
