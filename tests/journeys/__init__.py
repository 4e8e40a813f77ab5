"""Whole jobs over HTTP."""
