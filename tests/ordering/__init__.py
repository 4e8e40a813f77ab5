"""What to order by when."""
