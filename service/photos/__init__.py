"""Photos of looks and observations: drawn anew without metadata, kept by the hash of their content."""
