"""Published figures as TOML data, each with its source and grade, and the loader that reads them."""
