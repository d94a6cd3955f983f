"""What is said of a set-up on the plan: its faults, and what a stroke does from it."""

from typing import Any

from dash import html

from cue_dashboard import words as shared
from cue_dashboard.drafts import Judged
from cue_dashboard.playing import Playing
from cue_dashboard.units import MM_PER_M, PaceScale
from cue_dashboard.words import setups as words
from cue_table.shot import WhiteRun

MRAD_PER_RAD = 1000.0

STUN_SPIN = 0.3
ROLLING_SPIN = 0.9
"""Spin ratios between the words; this project's choice, the first as in `cue_table.choose`."""


def fault_items(found: Judged) -> list[html.Li]:
    """Return what is wrong with a set-up, or that nothing is."""
    return [html.Li(one) for one in found.faults or (words.FAULTS_NONE,)]


def run_words(found: Judged, scale: PaceScale) -> list[Any]:
    """Return what the stroke tried does, one sentence after the other."""
    run = found.run
    if run is None:
        return []
    said = [html.P(html.Strong(_end(found, run)))]
    if run.arrival_speed_m_s > 0.0:
        said.append(html.P(_arrival(run, scale)))
        if not run.is_object_ball_potted:
            said.append(html.P(words.RUN_NO_POT))
    said += [html.P(one) for one in run.warnings]
    if found.spread is not None:
        chance = found.spread.chance_both
        said.append(html.P(words.CHANCE.format(chance=f"{chance:.0%}")))
        said.append(html.P(spread_words(found.playing), className="quiet"))
    if found.setup.landing_area_m:
        said.append(html.P(_bands(found.bands_m_s, scale), className="quiet"))
    return said


def spread_words(playing: Playing) -> str:
    """Return whose spread it is and how large, what is known of it first."""
    own, spread = playing.own, playing.spread
    if playing.is_own:
        said = words.SPREAD_OWN.format(name=playing.name, pace=own.share, n=own.n_shots)
    elif playing.name:
        said = words.SPREAD_USUAL_OF.format(name=playing.name, pace=own.share)
    else:
        said = words.SPREAD_USUAL.format(pace=own.share)
    tip_mm, mrad = spread.tip_height_m * MM_PER_M, spread.direction_rad * MRAD_PER_RAD
    return f"{said} {words.SPREAD_REST.format(tip_mm=tip_mm, mrad=mrad)}"


def _end(found: Judged, run: WhiteRun) -> str:
    """Return how the white's run ends."""
    if run.potted_in is not None:
        return words.RUN_IN_OFF.format(pocket=shared.POCKET_NAME[run.potted_in].lower())
    if run.arrival_speed_m_s == 0.0:
        return words.RUN_MISSED
    if not found.setup.landing_area_m:
        return words.RUN_STOPS
    lands = bool(found.setup.lands(run.stop_m))
    return words.RUN_STOPS_IN if lands else words.RUN_STOPS_OUT


def _arrival(run: WhiteRun, scale: PaceScale) -> str:
    """Return how the white meets the object ball."""
    n_cushions = len(run.cushion_points_m)
    few = {0: words.CUSHIONS_NONE, 1: words.CUSHIONS_ONE}
    return words.RUN_ARRIVES.format(
        pace=scale.text(run.arrival_speed_m_s),
        spin=spin_words(run.arrival_spin_ratio),
        cushions=few.get(n_cushions, words.CUSHIONS_MANY.format(n=n_cushions)),
    )


def spin_words(ratio: float) -> str:
    """Return a spin ratio in the trade's words."""
    if ratio < -STUN_SPIN:
        return words.SPIN_SCREW
    if ratio <= STUN_SPIN:
        return words.SPIN_STUN
    return words.SPIN_SOME if ratio < ROLLING_SPIN else words.SPIN_ROLLS


def _bands(bands_m_s: tuple[tuple[float, float], ...], scale: PaceScale) -> str:
    """Return the paces that land at the tip height tried."""
    spans = [scale.span(*band) for band in bands_m_s]
    if not spans:
        return words.BANDS_NONE
    if len(spans) == 1:
        return words.BANDS_ONE.format(band=spans[0])
    return words.BANDS_MORE.format(n=len(spans), bands=", ".join(spans))
