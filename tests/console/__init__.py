"""The pages, as a browser without a screen sees them."""
