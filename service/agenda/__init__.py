"""Due work, derived from facts."""
