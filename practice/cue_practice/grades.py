"""What a shot did, in the order of the pace that does it."""

from enum import StrEnum


class Grade(StrEnum):
    """Result of one shot, as the player taps it."""

    TOO_LITTLE = "too_little"
    """Too little stun: the spin had run out, the white did not leave wide enough."""
    RIGHT = "right"
    """The white came where it should."""
    TOO_MUCH = "too_much"
    """Too much stun: the white left too wide, or came back."""
