"""Six weeks of an invented nursery, played through the HTTP interface of a really started service."""
