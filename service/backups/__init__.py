"""A database as it stands, in one file of its own kind: taken while people work, proved, put back."""
