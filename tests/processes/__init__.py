"""Real processes: the embedded tree, and web, worker and beat on PostgreSQL and Redis."""
