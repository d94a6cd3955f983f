"""Two tip heights of one set-up within one posterior.

Cloth, player and model are the same at both, so much of what is not known of one is not known of
the other, and falls out of the comparison. In the model of :mod:`cue_practice.carry_over` centre,
half width and scatter of both heights are each known together beforehand, what they share being
their covariance: normal, and for the centres Student's t in two dimensions. The joint posterior is
then the product of the two posteriors that have not heard of each other, times the joint prior over
the product of both priors. It is summed over all pairs of their nodes.
"""

from dataclasses import dataclass

import numpy as np

from cue_practice.likelihood import FloatArray
from cue_practice.pace_fit import TAIL_DOF, Posterior
from cue_practice.prior import PacePrior

_N_NODES = 600
_MOST_CORRELATED = 0.99


@dataclass(frozen=True, eq=False)
class HeightKnown:
    """What is known of one height without the other.

    Parameters
    ----------
    prior : PacePrior
        What it was begun from, nothing of the other height in it.
    posterior : Posterior
        What its own shots made of that.
    own_sd : tuple of three floats
        Doubts on centre, half width and scatter that the other height does not share, from
        :func:`cue_practice.carry_over.own_at_a_height`.
    pace_m_s : float
        The pace that would be played there.
    """

    prior: PacePrior
    posterior: Posterior
    own_sd: tuple[float, float, float]
    pace_m_s: float


def probability_easier(one: HeightKnown, other: HeightKnown, spread: float) -> float:
    """Return the probability that the right result truly comes more often at one height.

    Parameters
    ----------
    one, other : HeightKnown
        Both heights.
    spread : float
        Spread of the player's pace about the one tried for, as a share.

    Returns
    -------
    float
        Within 0 and 1; with the heights exchanged, 1 less that.
    """
    nodes = [known.posterior.thinned(_N_NODES) for known in (one, other)]
    chance = [
        few.chances(np.log([known.pace_m_s]), spread)[1][0]
        for few, known in zip(nodes, (one, other), strict=True)
    ]
    weight = _pair_weights(
        _standardised(one.prior, nodes[0]),
        _standardised(other.prior, nodes[1]),
        np.sqrt(_shared(one) * _shared(other)),
    )
    first, second = chance[0][:, np.newaxis], chance[1][np.newaxis, :]
    is_easier = np.where(first == second, 0.5, first > second)
    return float(np.sum(weight * is_easier))


def _shared(known: HeightKnown) -> FloatArray:
    """Return which part of each variance beforehand the other height shares."""
    prior = known.prior
    whole = np.array([prior.centre_sd_log, prior.half_width_sd_log, prior.scatter_sd_log])
    return np.asarray(np.clip(1.0 - (np.array(known.own_sd) / whole) ** 2, 0.0, _MOST_CORRELATED))


def _standardised(prior: PacePrior, nodes: Posterior) -> FloatArray:
    """Return centre, half width and scatter of every node in standard deviations of the prior."""
    return np.column_stack([
        (nodes.centre_log - np.log(prior.centre_m_s)) / prior.centre_sd_log,
        np.log(nodes.half_width_log / prior.half_width_log) / prior.half_width_sd_log,
        np.log(nodes.scatter_log / prior.scatter_log) / prior.scatter_sd_log,
    ])  # fmt: skip


def _pair_weights(one: FloatArray, other: FloatArray, correlation: FloatArray) -> FloatArray:
    """Return the weight of every pair of nodes, together 1: joint prior over both priors."""
    log_weight = _t_ratio(one[:, :1], other[:, 0], float(correlation[0]))
    rest = 1.0 - correlation[1:] ** 2
    square, cross = correlation[1:] ** 2 / (2.0 * rest), correlation[1:] / rest
    one, other = one[:, 1:], other[:, 1:]
    log_weight += (one * cross) @ other.T
    log_weight -= (one**2 @ square)[:, np.newaxis] + other**2 @ square
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight / weight.sum())


def _t_ratio(one: FloatArray, other: FloatArray, correlation: float) -> FloatArray:
    """Return Student's t in two dimensions over that in each, as a logarithm up to a constant."""
    dof, rest = TAIL_DOF, 1.0 - correlation**2
    both = (one**2 - 2.0 * correlation * one * other + other**2) / rest
    log_ratio = (dof + 1.0) / 2.0 * (np.log1p(one**2 / dof) + np.log1p(other**2 / dof))
    return np.asarray(log_ratio - (dof + 2.0) / 2.0 * np.log1p(both / dof))
