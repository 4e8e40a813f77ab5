"""What happened, when, by whom: one append-only, hash-chained table."""
