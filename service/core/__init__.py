"""Plumbing without a word of the trade: settings, database, errors, HTTP habits, owed work."""
