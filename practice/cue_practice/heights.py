"""Would another tip height be easier? Tip heights of one set-up against each other.

Every height has the table model's own pace and room; what the player has shown at one height sets
the model right at the others (:mod:`cue_practice.carry_over`), so that a height nobody has played
yet has an answer too, with the doubt that belongs to it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from cue_practice.answer import Evidence, evidence_for
from cue_practice.carry_over import own_at_a_height
from cue_practice.chosen import SAME_HEIGHT_M
from cue_practice.inference import PaceAnswer
from cue_practice.log import PracticeLog
from cue_practice.pace_words import IN_M_S, PaceWords
from cue_practice.questions import graded
from cue_practice.shown import Equipment, table_cue, what_was_shown
from cue_practice.together import HeightKnown, probability_easier
from cue_practice.trade_words import capital, height_words, probability_words
from cue_table.errors import TableError

SURE = 0.9
"""From this probability on a height is called easier."""

_EVEN = 0.5

AS_GOOD_AS_M = 0.001
"""A played height this close to one half a tip away stands for it; a choice of ours."""


@dataclass(frozen=True)
class HeightChance:
    """What a tip height promises.

    Parameters
    ----------
    tip_below_centre_m : float
        The height.
    answer : PaceAnswer
        Which pace is right there; its ``chance_at_own_spread`` is what counts.
    probability_easier : float or None
        That the right result truly comes more often here than at the height asked about, each
        played at its own best pace with the player's own spread; 0.5 for that height itself. Within
        one posterior: what both heights do not know alike falls out of the comparison. None where
        nobody played and no pace lands in the model, so that nothing can be said.
    """

    tip_below_centre_m: float
    answer: PaceAnswer
    probability_easier: float | None

    @property
    def is_played(self) -> bool:
        """Return whether the player has shots at this height."""
        return self.answer.n_shots > 0


@dataclass(frozen=True)
class HeightComparison:
    """Tip heights of one set-up.

    Parameters
    ----------
    asked : HeightChance
        The height asked about.
    others : tuple of HeightChance
        The others, from the lowest tip up.
    words : tuple of str
        In sentences, paces in m/s.
    """

    asked: HeightChance
    others: tuple[HeightChance, ...]
    words: tuple[str, ...]

    def in_words(self, pace: PaceWords = IN_M_S) -> tuple[str, ...]:
        """Return the sentences with paces written in another way."""
        return _words(self.asked, self.others, pace)

    @property
    def summary(self) -> str:
        """Return in one sentence whether another height would be easier, or that it is not told."""
        return _summary(self.asked, self.others)


def compare_heights(
    log: PracticeLog,
    setup_id: int,
    player_id: int,
    tip_below_centre_m: float,
    *,
    side_m: float = 0.0,
    heights_m: Sequence[float] | None = None,
) -> HeightComparison:
    """Return whether other tip heights would be easier for a player on a set-up.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    setup_id, player_id : int
        Which set-up, which player.
    tip_below_centre_m, side_m : float
        What is held now.
    heights_m : sequence of float, optional
        Other heights; those of :func:`nearby_heights_m` if not given, one that promises nothing
        replaced by one halfway to it.

    Returns
    -------
    HeightComparison
        Heights at which the tip would slip off are left out.

    Raises
    ------
    PracticeError
        If there is no such set-up or player.
    cue_table.errors.TableError
        If the tip would slip off at the height asked about.
    """
    table_id = log.setup(setup_id).table_id
    shown = what_was_shown(log, table_id, player_id, Equipment.of(log))

    def known(height_m: float) -> _At:
        """Return what is known of a height."""
        evidence = evidence_for(log, setup_id, player_id, height_m, side_m=side_m, shown=shown)
        return _At(height_m, evidence, evidence.answer())

    asked = known(tip_below_centre_m)

    def at(height_m: float) -> HeightChance | None:
        """Return what a height promises, None where the tip would slip off."""
        try:
            return _beside(known(height_m), asked)
        except TableError:
            return None

    if heights_m is None:
        nearby = nearby_heights_m(log, setup_id, player_id, tip_below_centre_m, side_m=side_m)
        found = [_or_nearer(at, height_m, tip_below_centre_m) for height_m in nearby]
    else:
        found = [at(height_m) for height_m in sorted(heights_m, reverse=True)]
    others = tuple(one for one in found if one is not None)
    here = HeightChance(tip_below_centre_m, asked.answer, 0.5)
    return HeightComparison(here, others, _words(here, others, IN_M_S))


def _or_nearer(
    at: Callable[[float], HeightChance | None], height_m: float, held_m: float
) -> HeightChance | None:
    """Return what a height promises, or one halfway to it where it promises nothing."""
    far = at(height_m)
    if far is not None and far.probability_easier is not None:
        return far
    near = at((height_m + held_m) / 2.0)
    return near if near is not None and near.probability_easier is not None else far


def nearby_heights_m(
    log: PracticeLog,
    setup_id: int,
    player_id: int,
    tip_below_centre_m: float,
    *,
    side_m: float = 0.0,
) -> tuple[float, ...]:
    """Return the heights worth setting beside one: those played, and half a tip higher and lower.

    Parameters
    ----------
    log : PracticeLog
        Where the shots are.
    setup_id, player_id : int
        Which set-up, which player.
    tip_below_centre_m, side_m : float
        What is held now.

    Returns
    -------
    tuple of float
        From the lowest tip up, without the one held now; half a tip away only where nothing played
        lies as good as there.
    """
    played = {
        held.tip_below_centre_m
        for held in graded(log)
        if (held.setup_id, held.player_id) == (setup_id, player_id)
        and abs(held.side_m - side_m) < SAME_HEIGHT_M
        and abs(held.tip_below_centre_m - tip_below_centre_m) > SAME_HEIGHT_M
    }
    half_tip_m = _tip_width_m(log, player_id) / 2.0
    away = (tip_below_centre_m + half_tip_m, tip_below_centre_m - half_tip_m)
    new = [one for one in away if all(abs(one - other) > AS_GOOD_AS_M for other in played)]
    return tuple(sorted((*played, *new), reverse=True))


def _tip_width_m(log: PracticeLog, player_id: int) -> float:
    """Return the width of the tip of the player's newest cue, of an ordinary one without."""
    own = [cue for cue in log.cues() if cue.player_id == player_id]
    cue = own[-1] if own else None
    return cue.tip_width_m if cue else table_cue([], None).tip_width_m


@dataclass(frozen=True, eq=False)
class _At:
    """What is known of a height, and what that rests on."""

    height_m: float
    evidence: Evidence
    answer: PaceAnswer


def _beside(one: _At, asked: _At) -> HeightChance:
    """Return what a height promises beside the one asked about."""
    easier = None
    if one.answer.n_shots > 0 or one.answer.prior.band_m_s is not None:
        easier = probability_easier(
            _known_without(one, asked), _known_without(asked, one), asked.answer.own_spread.share
        )
    return HeightChance(one.height_m, one.answer, easier)


def _known_without(one: _At, other: _At) -> HeightKnown:
    """Return what is known of one height before the other's shots are heard."""
    prior = one.evidence.heard(without=other.evidence.asked)
    return HeightKnown(
        prior=prior,
        posterior=one.evidence.posterior(prior),
        own_sd=own_at_a_height(prior),
        pace_m_s=one.answer.best_pace_m_s,
    )


def _words(asked: HeightChance, others: Sequence[HeightChance], pace: PaceWords) -> tuple[str, ...]:
    """Return the comparison in sentences."""
    said = [f"{capital(height_words(asked.tip_below_centre_m))}: {_promise(asked.answer, pace)}."]
    for one in others:
        higher = one.tip_below_centre_m < asked.tip_below_centre_m
        where = f"{'Higher' if higher else 'Lower'}, {height_words(one.tip_below_centre_m)}"
        if one.probability_easier is None:
            said.append(f"{where}: in the table model no pace brings the white there.")
            continue
        verdict = _verdict(one.probability_easier)
        said.append(f"{where}: {_promise(one.answer, pace)}; {verdict}.")
        if not one.is_played:
            said.append(
                "You have not played that height here yet: this is the table model's word, set "
                "right by your other shots."
            )
    return tuple(said)


def _summary(asked: HeightChance, others: Sequence[HeightChance]) -> str:
    """Return the comparison in one sentence."""
    told = [(one.probability_easier, one) for one in others if one.probability_easier is not None]
    held = height_words(asked.tip_below_centre_m)
    if not told:
        return f"Besides {held} no height looked at has a pace that brings the white there."
    easier, best = max(told, key=lambda pair: pair[0])
    where = height_words(best.tip_below_centre_m)
    if easier >= SURE:
        sure = f"{probability_words(easier)} sure"
        unplayed = "" if best.is_played else ", though you have not played it here yet"
        return f"{capital(where)} would be easier for you than {held}, {sure}{unplayed}."
    if easier <= 1.0 - SURE:
        sure = f"{probability_words(1.0 - easier)} sure"
        return f"No other height looked at would be easier for you than {held}, {sure} of each."
    if easier < _EVEN:
        return (
            f"So far {held} looks the easiest, but the evidence does not tell yet: {where} would "
            f"be easier with a probability of {probability_words(easier)}."
        )
    return (
        f"So far {where} looks easier than {held}, but the evidence does not tell yet: the "
        f"probability is {probability_words(easier)}."
    )


def _promise(answer: PaceAnswer, pace: PaceWords) -> str:
    """Return chance and best pace of a height."""
    return (
        f"right in about {answer.chance_at_own_spread * 100:.0f} % of shots (90 % sure: "
        f"{answer.chance_low * 100:.0f} to {answer.chance_high * 100:.0f} %) at "
        f"{pace.text(answer.best_pace_m_s)}"
    )


def _verdict(easier: float) -> str:
    """Return whether a height is easier."""
    sure = max(easier, 1.0 - easier)
    word = "easier" if easier >= 0.5 else "harder"
    if sure >= SURE:
        return f"{word} for you, {probability_words(sure)} sure"
    return f"it cannot be told yet whether that is easier ({probability_words(sure)} for {word})"
