"""Everything about cue, cloth, cushions and balls that a shot depends on."""

from dataclasses import dataclass

from cue_table.cloth import DEFAULT_CLOTH, Cloth
from cue_table.collision import DEFAULT_CONTACT, BallContact
from cue_table.cushion import DEFAULT_CUSHION, Cushion
from cue_table.tip import DEFAULT_CUE, Cue


@dataclass(frozen=True)
class Conditions:
    """Cue, cloth, cushions and ball contact together.

    Parameters
    ----------
    cue : Cue
        The cue.
    cloth : Cloth
        The cloth.
    cushion : Cushion
        The cushions.
    contact : BallContact
        How balls meet.
    """

    cue: Cue = DEFAULT_CUE
    cloth: Cloth = DEFAULT_CLOTH
    cushion: Cushion = DEFAULT_CUSHION
    contact: BallContact = DEFAULT_CONTACT


DEFAULT_CONDITIONS = Conditions()
"""An ordinary cue on an ordinary table."""
