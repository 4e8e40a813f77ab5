"""Who started whom."""

from pathlib import Path


def below(process: int) -> list[int]:
    """The processes that a process started, and those that they started (Linux)."""
    try:
        named = Path(f"/proc/{process}/task/{process}/children").read_text().split()
    except OSError:
        return []
    return [one for child in map(int, named) for one in (child, *below(child))]
