"""The refusal of reference data that has not the shape it should have."""


class ReferenceProblem(ValueError):
    """A figure or word in a data file that can't be used; names `file`, `entry` and `field`."""

    def __init__(self, file: str, entry: str, field: str, detail: str) -> None:
        self.file = file
        self.entry = entry
        self.field = field
        self.detail = detail
        super().__init__(": ".join(part for part in (file, entry, field, detail) if part))
