"""Checks of the calculations against handbooks, standards, papers and reference libraries."""
