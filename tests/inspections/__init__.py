"""Looks at lots and tubs, and the plan of how many to look at."""
