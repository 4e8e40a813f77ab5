"""Speed, each figure beside its floor in the same run."""
