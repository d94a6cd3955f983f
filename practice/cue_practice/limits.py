"""What a name, a size or a pace in the log may be; a plain mistake of unit falls outside."""

from cue_practice.errors import PracticeError

SLOWEST_M_S = 0.2
FASTEST_M_S = 10.0
"""No stroke is slower or faster; a full-power stroke reaches 3.2 to 4.5 m/s (Colorado State
University billiards pages). Anything else is a slip of the keyboard or of the sensor."""

MAX_NAME = 80
MAX_TEXT = 20_000

_LIMITS = {
    "mass_kg": (0.2, 1.5, "kg"),
    "length_m": (0.9, 2.5, "m"),
    "tip_width_m": (0.004, 0.016, "m"),
    "sliding_friction": (0.02, 1.0, ""),
    "rolling_resistance": (0.001, 0.1, ""),
    "tip_below_centre_m": (-0.02625, 0.02625, "m"),
    "side_m": (-0.02625, 0.02625, "m"),
    "called_pace_m_s": (0.1, 12.0, "m/s"),
}
"""What a plain mistake of unit falls outside of; the ball's radius is 0.02625 m."""


def is_a_pace(pace_m_s: float) -> bool:
    """Return whether a stroke can have this pace."""
    return SLOWEST_M_S <= pace_m_s <= FASTEST_M_S


def checked_name(text: str, what: str) -> str:
    """Return a name without blanks around it, refusing an empty or endless one."""
    name = " ".join(text.split())
    if not name or len(name) > MAX_NAME:
        raise PracticeError(
            f"The {what} has {len(name)} characters; it needs 1 to {MAX_NAME}. Choose another."
        )
    return name


def within(**values: float) -> dict[str, float]:
    """Return values as floats, refusing those that only a mistake of unit explains."""
    for key, value in values.items():
        low, high, unit = _LIMITS[key]
        if not low <= value <= high:  # also refuses NaN
            name = key.removesuffix("_kg").removesuffix("_m_s").removesuffix("_m").replace("_", " ")
            raise PracticeError(
                f"{name} is {value:g} {unit}".rstrip()
                + f", expected {low:g} to {high:g} {unit}".rstrip()
                + ". Check the number and its unit."
            )
    return {key: float(value) for key, value in values.items()}


def checked_text(text: str, what: str) -> str:
    """Return a text, refusing characters that not every database can hold."""
    bad = next((one for one in text if one == "\0" or "\ud800" <= one <= "\udfff"), None)
    if bad is not None or len(text) > MAX_TEXT:
        why = f"has {len(text)} characters" if bad is None else f"holds the character {bad!r}"
        raise PracticeError(
            f"The {what} {why}; a text of at most {MAX_TEXT} characters can be kept. Shorten it or "
            "write it anew."
        )
    return text
