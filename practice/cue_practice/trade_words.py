"""Words that sentences of all kinds need: lengths on the ball, numbers of shots, probabilities."""


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


def shots_words(n: int) -> str:
    """Return a number of shots.

    Examples
    --------
    >>> shots_words(1), shots_words(12)
    ('1 shot', '12 shots')
    """
    return "1 shot" if n == 1 else f"{n} shots"


def capital(words: str) -> str:
    """Return words with a capital letter at the start."""
    return words[:1].upper() + words[1:]


def probability_words(share: float) -> str:
    """Return a probability, never as certain.

    Examples
    --------
    >>> probability_words(0.999), probability_words(0.42), probability_words(0.0)
    ('over 99 %', '42 %', 'under 1 %')
    """
    return "over 99 %" if share > 0.99 else f"{share * 100:.0f} %" if share >= 0.01 else "under 1 %"


MOST_DIGITS = 2
"""Hundredths of a millimetre or of a per cent: no sensor tells less apart."""


def interval_texts(value: float, low: float, high: float, digits: int) -> tuple[str, str, str]:
    """Return a value and the ends of its interval, with decimals enough for the ends to differ.

    Parameters
    ----------
    value, low, high : float
        In the unit of the words.
    digits : int
        Decimals where they are enough.

    Returns
    -------
    tuple of three str
        All with as many decimals; ends that read the same still, with the fewest.

    Examples
    --------
    >>> interval_texts(1.52, 1.49, 1.54, 1), interval_texts(0.1, 0.1, 0.1, 1)
    (('1.52', '1.49', '1.54'), ('0.1', '0.1', '0.1'))
    """
    for n in range(digits, max(digits, MOST_DIGITS) + 1):
        ends = (f"{low:.{n}f}", f"{high:.{n}f}")
        if ends[0] != ends[1]:
            return (f"{value:.{n}f}", *ends)
    return (f"{value:.{digits}f}", f"{low:.{digits}f}", f"{high:.{digits}f}")


def _mm(length_m: float) -> str:
    """Return a length in millimetres, to the tenth where it has one."""
    return f"{abs(length_m) * 1e3:.1f}".removesuffix(".0")
