"""What can go wrong in the practice log."""


class PracticeError(Exception):
    """A log that cannot be opened, or an entry that makes no sense."""
