"""A published implementation of the adaptive method, given the project's model of three results.

A. B. Watson, "QUEST+: A general multidimensional Bayesian adaptive psychometric method", Journal of
Vision 17(3):10, 2017. The package brings yes-or-no models; its posterior and its expected entropy
take any likelihood, so the model's table of chances is put in the place of its own.
"""

import importlib
import importlib.util
from typing import Any

import numpy as np
from scipy.special import ndtr

from cue_bench.pace_players import Played
from cue_practice.pace_fit import LAPSE, TAIL_DOF
from cue_practice.prior import PacePrior

_N_PACES = 61
_REACH_SD = 4.0
_RESULTS = ("too_little", "right", "too_much")


def is_there() -> bool:
    """Return whether the package of the published method is installed."""
    return importlib.util.find_spec("questplus") is not None


class AdaptivePeer:
    """Posterior and next shot of the published method after some shots.

    Parameters
    ----------
    prior : PacePrior
        What was expected before.
    shots : Played
        What was played; paces are moved to the nearest of a fine grid.
    """

    def __init__(self, prior: PacePrior, shots: Played) -> None:
        centre = np.log(prior.centre_m_s) + prior.centre_sd_log * np.linspace(
            -2.0 * _REACH_SD, 2.0 * _REACH_SD, 61
        )
        width = np.log(prior.half_width_log) + prior.half_width_sd_log * np.linspace(-3.2, 3.2, 15)
        scatter = np.log(prior.scatter_log) + prior.scatter_sd_log * np.linspace(-3.2, 3.2, 15)
        pace = np.log(prior.centre_m_s) + np.linspace(-0.75, 0.75, _N_PACES)
        pace = np.unique(np.concatenate([pace, shots.log_pace]))
        off = (centre - np.log(prior.centre_m_s)) / prior.centre_sd_log
        questplus: Any = importlib.import_module("questplus")
        self._quest = questplus.QuestPlus(
            stim_domain={"intensity": pace},
            param_domain={
                "mean": centre, "sd": np.exp(scatter), "lower_asymptote": np.exp(width),
                "lapse_rate": np.array([LAPSE]),
            },
            outcome_domain={"response": np.array(_RESULTS)},
            prior={
                "mean": (1.0 + off**2 / TAIL_DOF) ** (-(TAIL_DOF + 1.0) / 2.0),
                "sd": np.exp(-np.linspace(-3.2, 3.2, 15) ** 2 / 2.0),
                "lower_asymptote": np.exp(-np.linspace(-3.2, 3.2, 15) ** 2 / 2.0),
            },
            func="norm_cdf", stim_scale="linear", stim_selection_method="min_entropy",
            param_estimation_method="mean",
        )  # fmt: skip
        self._quest.likelihoods = self._table(pace)
        for x, result in zip(shots.log_pace, shots.result, strict=True):
            self._quest.update(
                stim={"intensity": x}, outcome={"response": _RESULTS[int(result) + 1]}
            )
        _ = self._quest.next_stim  # a property that looks for it
        self._least = float(self._quest.entropy)

    def _table(self, pace: np.ndarray) -> Any:
        """Return the chances of every result at every pace, as the project's model has them."""
        xarray: Any = importlib.import_module("xarray")
        like = self._quest.likelihoods
        axes = {name: like[name].values for name in ("mean", "sd", "lower_asymptote")}
        x, centre, scatter, half = (
            xarray.DataArray(values, dims=name, coords={name: values})
            for name, values in {"intensity": pace, **axes}.items()
        )
        little = xarray.apply_ufunc(ndtr, (centre - half - x) / scatter)
        much = xarray.apply_ufunc(ndtr, (x - centre - half) / scatter)
        chances = [(1.0 - LAPSE) * one + LAPSE / 3.0 for one in (little, 1.0 - little - much, much)]
        whole = xarray.concat(chances, dim="response").assign_coords(response=list(_RESULTS))
        return whole.expand_dims(lapse_rate=[LAPSE]).transpose(*like.dims)

    @property
    def centre_log(self) -> float:
        """Return the posterior mean of the centre."""
        return float(self._quest.param_estimate["mean"])

    @property
    def best_gain(self) -> float:
        """Return what its own next shot is expected to teach, in nats."""
        return self._before() - self._least

    def gain(self, log_pace: float) -> float:
        """Return what a shot at a pace is expected to teach, as the package counts it."""
        whole = self._quest.likelihoods
        self._quest.likelihoods = self._table(np.array([log_pace]))
        _ = self._quest.next_stim
        left = float(self._quest.entropy)
        self._quest.likelihoods = whole
        return self._before() - left

    def _before(self) -> float:
        """Return the entropy of the posterior."""
        weight = self._quest.posterior.values.ravel()
        weight = weight[weight > 0.0]
        return float(-np.sum(weight * np.log(weight)))
