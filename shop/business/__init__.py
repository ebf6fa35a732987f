"""The shop's own entries: set-up, rates, numbers of documents, logins."""
