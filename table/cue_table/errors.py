"""What can go wrong on the table."""


class TableError(Exception):
    """A set-up or a stroke that the table model cannot answer for."""
