"""Lengths on the ball in the words of the trade, for sentences."""


def height_words(tip_below_centre_m: float) -> str:
    """Return a tip height in millimetres.

    Parameters
    ----------
    tip_below_centre_m : float
        How far the cue's axis passes below the white's centre.

    Returns
    -------
    str
        In words.

    Examples
    --------
    >>> height_words(0.0095), height_words(-0.003), height_words(0.0)
    ('9.5 mm below centre', '3 mm above centre', 'at centre height')
    """
    if abs(tip_below_centre_m) < 5e-5:
        return "at centre height"
    word = "below" if tip_below_centre_m > 0 else "above"
    return f"{_mm(tip_below_centre_m)} mm {word} centre"


def side_words(side_m: float) -> str:
    """Return a side in millimetres.

    Parameters
    ----------
    side_m : float
        How far the cue's axis passes to the left of the white's centre.

    Returns
    -------
    str
        In words.

    Examples
    --------
    >>> side_words(0.004), side_words(-0.004), side_words(0.0)
    ('4 mm of left side', '4 mm of right side', 'no side')
    """
    if abs(side_m) < 5e-5:
        return "no side"
    return f"{_mm(side_m)} mm of {'left' if side_m > 0 else 'right'} side"


def _mm(length_m: float) -> str:
    """Return a length in millimetres, to the tenth where it has one."""
    return f"{abs(length_m) * 1e3:.1f}".removesuffix(".0")
