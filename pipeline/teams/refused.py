"""The one domain error of services."""


class Refused(Exception):
    """A rule of the trade forbids what was asked; says in words which, and what would be right.

    ``field`` names the form's field at fault; ``None`` where it is the whole.
    """

    def __init__(self, message: str, field: str | None = None) -> None:
        super().__init__(message)
        self.field = field
