"""How paces are written in sentences: metres a second, unless whoever asks brings another way."""

from typing import Protocol


class PaceWords(Protocol):
    """Anything that writes paces given in m/s, for example a page's scale in mph."""

    def number(self, pace_m_s: float) -> str:
        """Return a pace without its unit."""
        ...

    def text(self, pace_m_s: float) -> str:
        """Return a pace with its unit."""
        ...

    def span(self, low_m_s: float, high_m_s: float) -> str:
        """Return a range of paces with its unit."""
        ...


class MetresPerSecond:
    """Paces in m/s, to the hundredth.

    Examples
    --------
    >>> IN_M_S.text(2.2874), IN_M_S.span(2.25, 2.331)
    ('2.29 m/s', '2.25 to 2.33 m/s')
    """

    def number(self, pace_m_s: float) -> str:
        """Return a pace without its unit."""
        return f"{pace_m_s:.2f}"

    def text(self, pace_m_s: float) -> str:
        """Return a pace with its unit."""
        return f"{pace_m_s:.2f} m/s"

    def span(self, low_m_s: float, high_m_s: float) -> str:
        """Return a range of paces with its unit."""
        return f"{low_m_s:.2f} to {high_m_s:.2f} m/s"


IN_M_S: PaceWords = MetresPerSecond()
"""Used where nothing else is asked for."""
