"""Who plants come from, what is traded, what hitch-hikes, and how plants take a dip."""
