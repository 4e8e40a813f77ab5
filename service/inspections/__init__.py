"""Looks at lots and tubs, and what they found."""
