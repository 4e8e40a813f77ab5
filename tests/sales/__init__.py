"""What may be sold, and what left."""
