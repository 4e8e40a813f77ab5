"""Written treatments, versioned; mixing sheets; what must never meet."""
