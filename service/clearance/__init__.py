"""Gates, policies, the decision that a lot may be sold, and certificates."""
