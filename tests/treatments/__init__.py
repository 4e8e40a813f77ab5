"""Treatments and water changes."""
