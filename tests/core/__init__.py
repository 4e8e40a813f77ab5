"""The plumbing."""
