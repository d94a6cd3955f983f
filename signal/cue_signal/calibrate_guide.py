"""What a guide for calibration or mounting says while samples arrive."""

from dataclasses import dataclass


@dataclass(frozen=True)
class GuideState:
    """Where a guided measurement stands.

    Parameters
    ----------
    words : str
        What to do now, one or two sentences.
    n_done, n_wanted : int
        Parts done and parts wanted, for a progress bar.
    is_ready : bool
        Whether ``result()`` has all it needs.
    is_still : bool
        Whether the sensor lies still at present.
    still_s : float
        For how long it has been.
    up : tuple of three floats or None
        Unit vector that points up now, in the sensor's frame.
    done, missing : tuple of str
        Names of the parts.
    turned_rad : float
        While rolling: how far the cue has been turned so far.
    """

    words: str
    n_done: int
    n_wanted: int
    is_ready: bool
    is_still: bool = False
    still_s: float = 0.0
    up: tuple[float, float, float] | None = None
    done: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    turned_rad: float = 0.0
