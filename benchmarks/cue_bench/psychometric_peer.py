"""The edges of the right band beside a published way of fitting psychometric functions.

H. H. Schuett, S. Harmeling, J. H. Macke and F. A. Wichmann, "Painfree and accurate Bayesian
estimation of psychometric functions for (potentially) overdispersed data", Vision Research 122,
105, 2016 (package psignifit, of the extra "bench"). It knows yes and no: whether a shot had at
least enough, and whether it had too much, are two such functions whose thresholds are the edges.
"""

import importlib
import importlib.util
from dataclasses import dataclass
from typing import Any

import numpy as np

from cue_bench.pace_players import Truth, play
from cue_practice.pace_fit import LAPSE, fit
from cue_practice.prior import PacePrior

_TRUTH = Truth(float(np.log(2.2)), 0.1, 0.08)
_WIDE = PacePrior(centre_m_s=2.0, centre_sd_log=1.0, half_width_sd_log=2.0, scatter_sd_log=2.0)
_N_LEVELS = 13
_REACH_LOG = 0.3
_SIDE_SD = 0.9945  # of an interval of 68 %


@dataclass(frozen=True)
class Edge:
    """One edge of the band as log pace, ours and the other's, each with its standard deviation."""

    name: str
    truth: float
    ours: float
    ours_sd: float
    peer: float
    peer_sd: float


def is_there() -> bool:
    """Return whether the package is installed."""
    return importlib.util.find_spec("psignifit") is not None


def edges(n_shots: int, seed: int) -> list[Edge]:
    """Return both edges of one player's band after so many shots at even paces.

    Parameters
    ----------
    n_shots, seed : int
        Of the player's shots.
    """
    rng = np.random.default_rng(seed)
    levels = _TRUTH.centre + np.linspace(-_REACH_LOG, _REACH_LOG, _N_LEVELS)
    meant = np.repeat(levels, -(-n_shots // _N_LEVELS))
    shots = play(_TRUTH, meant, rng)
    ours = fit(meant, shots.result, sd_log=np.zeros(len(meant)), prior=_WIDE)
    found = []
    for name, side in (("too little ends", -1), ("too much begins", 1)):
        values = ours.centre_log + side * ours.half_width_log
        mean = float(ours.weight @ values)
        spread = float(np.sqrt(ours.weight @ (values - mean) ** 2))
        is_yes = shots.result >= (1 if side > 0 else 0)
        truth = _TRUTH.centre + side * _TRUTH.half_width
        found.append(Edge(name, truth, mean, spread, *_peer(meant, is_yes, side)))
    return found


def _peer(paces: np.ndarray, is_yes: np.ndarray, side: int) -> tuple[float, float]:
    """Return threshold and standard deviation by the package, with the model's lapses."""
    psignifit: Any = importlib.import_module("psignifit")
    levels, place = np.unique(paces, return_inverse=True)
    data = np.column_stack([levels, np.bincount(place, weights=is_yes), np.bincount(place)])
    low = LAPSE / 3.0 if side > 0 else 2.0 * LAPSE / 3.0
    found = psignifit.psignifit(
        data, experiment_type="yes/no", sigmoid="norm",
        fixed_parameters={"gamma": low, "lambda": LAPSE - low, "eta": 0.0},
    )  # fmt: skip
    ends = found.confidence_intervals["threshold"]["0.68"]
    return float(found.parameter_estimate["threshold"]), float(np.ptp(ends)) / 2.0 / _SIDE_SD
