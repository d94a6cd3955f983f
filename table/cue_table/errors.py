"""What can go wrong on the table."""


class TableError(Exception):
    """A set-up or a stroke that the table model cannot answer for."""


class RangeError(TableError):
    """A value outside what the model allows.

    Parameters
    ----------
    what : str
        The quantity, in words that begin a sentence.
    value, low, high : float
        The value met and the ends of the allowed range.
    unit : str
        Unit of all three; empty for a pure number.
    remedy : str
        What to do about it, as a sentence.
    """

    def __init__(
        self, what: str, value: float, *, low: float, high: float, unit: str = "", remedy: str = ""
    ) -> None:
        space = f" {unit}" if unit else ""
        super().__init__(
            f"{what} is {value:.6g}{space}; allowed is {low:.6g} to {high:.6g}{space}. "
            f"{remedy}".strip()
        )
        self.what = what
        self.value = value
        self.low = low
        self.high = high
        self.unit = unit


def check_range(
    what: str, value: float, *, low: float, high: float, unit: str = "", remedy: str = ""
) -> None:
    """Raise RangeError unless low <= value <= high; a value that is not a number is refused too."""
    if not low <= value <= high:
        raise RangeError(what, value, low=low, high=high, unit=unit, remedy=remedy)
