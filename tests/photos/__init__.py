"""Photos: what is taken, what is kept of them, what they are of."""
