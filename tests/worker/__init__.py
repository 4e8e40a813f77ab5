"""The worker."""
