"""Who may come in: tokens and their roles, and the house's own settings."""
