"""What goes with failure, in plain sentences."""

from cue_practice.trade_words import capital

TRAIT_WORDS: dict[str, tuple[str, str]] = {
    "slowing": ("slowing into the ball", "gaining speed into the ball"),
    "backswing": ("a long backswing", "a short backswing"),
    "rear_pause": ("a long pause at the rear", "a short pause at the rear"),
    "delivery": ("an unhurried delivery", "a hurried delivery"),
    "jerk": ("a jerky delivery", "a smooth delivery"),
    "sideways": ("steering the tip sideways", "a tip that keeps its line"),
    "up_down": ("a tip that rises or drops", "a tip that keeps its height"),
    "twist": ("a cue that twists", "a cue that does not twist"),
    "follow_through": ("a long follow-through", "a short follow-through"),
    "restless": ("a cue that is restless after the hit", "a cue that is still after the hit"),
    "feathers": ("more feathers", "fewer feathers"),
    "feather_time": ("slow feathers", "quick feathers"),
}
"""Each trait's words: much of it, little of it."""

_GROW_WITH_PACE = {"backswing", "delivery"}

OUTCOME_WORDS = {
    "missed": "missing",
    "wrong": "a wrong result, more than the pace explains",
    "soft": "too soft a pace",
    "off_pace": "a pace further off",
}

NO_TRAITS = "No measure of the stroke varies or is known in enough of these shots."
NOTHING_MEANS = "This is what goes together in these shots; what causes what, it cannot tell."


def link_words(trait: str, outcome: str, least: float, most: float, n_shots: int) -> str:
    """Return one link as a sentence, told from the side of failure.

    Parameters
    ----------
    trait, outcome : str
        As in :class:`cue_practice.failure.Link`.
    least, most : float
        What is expected in the third of shots with least and with most of the trait.
    n_shots : int
        Shots behind it.
    """
    more, less = TRAIT_WORDS[trait]
    is_more = most >= least
    worse, better = (most, least) if is_more else (least, most)
    word = more if is_more else less
    if outcome == "soft" and _is_harder_better_told(trait, is_more=is_more):
        word, tied = (less if is_more else more), "too hard a pace"
        head = f"{capital(word)} {_goes(word)} with {tied}"
        return f"{head}: {_apart(worse - better)} ({n_shots} shots, chance allowed for)."
    if outcome in {"missed", "wrong"} and trait in _GROW_WITH_PACE:
        word += " for the pace"
    head = f"{capital(word)} {_goes(word)} with {OUTCOME_WORDS[outcome]}"
    if outcome in {"missed", "wrong"}:
        verb = "missed" if outcome == "missed" else "came out wrong"
        return (
            f"{head}: about {worse * 100:.0f} % {verb} in the third of shots with most of it, "
            f"{better * 100:.0f} % in the third with least ({n_shots} shots, chance allowed for)."
        )
    return f"{head}: {_apart(worse - better)} ({n_shots} shots, chance allowed for)."


def nothing_words(outcome: str, n_shots: int, usual: float, least: float, most: float) -> str:
    """Return that nothing stands out, and what would have.

    Parameters
    ----------
    outcome : str
        Of :data:`cue_practice.failure.OUTCOMES`.
    n_shots : int
        Shots looked at.
    usual : float
        Share that failed, or scatter of the pace.
    least, most : float
        Outcome in the thirds that would be found in eight of ten players.
    """
    if outcome in {"missed", "wrong"}:
        verb, plural = ("missed", "misses") if outcome == "missed" else ("wrong", "wrong results")
        return (
            f"{n_shots} shots, {usual * 100:.0f} % {verb}: nothing in the stroke stands out. In so "
            f"many shots a habit would show only if it raised the {plural} from about "
            f"{least * 100:.0f} to {most * 100:.0f} %."
        )
    what = "softer or harder" if outcome == "soft" else "further off"
    return (
        f"{n_shots} shots to a called pace: nothing in the stroke goes clearly with a pace that is "
        f"{what}. To be seen, it would have to make {(most - least) * 100:.0f} % of pace."
    )


def together_words(one: str, other: str) -> str:
    """Return that two traits cannot be told apart."""
    first, second = TRAIT_WORDS[one][0], TRAIT_WORDS[other][0]
    return f"{capital(first)} and {second} come together here, so which of them matters is open."


def _is_harder_better_told(trait: str, *, is_more: bool) -> bool:
    """Return whether a link with softness reads better turned round: the fault is the other end."""
    faults = {"slowing", "jerk", "sideways", "up_down", "twist", "restless"}
    return trait in faults and not is_more


def _apart(share: float) -> str:
    """Return how far apart the paces of both thirds are."""
    return f"about {abs(share) * 100:.1f} % of pace between the thirds with most and least of it"


def _goes(words: str) -> str:
    """Return the verb for one trait."""
    return "go" if words.endswith("feathers") else "goes"
