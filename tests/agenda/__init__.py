"""Due work."""
