"""Checks of the reference data against standards, papers and arithmetic, and of what its loader refuses."""
