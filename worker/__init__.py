"""The worker: does what the database says is owed; the broker only wakes it."""
