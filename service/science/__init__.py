"""Pure calculations, one formula one function: no clock, no database, no web, nothing of ours."""
