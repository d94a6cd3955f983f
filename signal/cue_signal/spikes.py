"""Sudden changes of speed in the samples: everything that might be a hit."""

from dataclasses import dataclass

import numpy as np

from cue_sensors.samples import FloatArray, IntArray
from cue_signal.compiled import compiled

SPIKE_LEAST_M_S = 0.04
"""A sudden loss of speed below this is no hit that can be told from noise."""
REBOUND_LEAST_M_S = 0.06
"""A sudden gain by more than this may come after a blow that the sensor could not follow."""
PUSH_MOST_S = 0.03
"""A gain over longer than this is a delivery, beside which the blow at its end must stand."""
PULSE_SAMPLES = (1, 2, 4, 8)
"""Lengths over which a blow may be spread by the sensor's filter."""
LONE_LEAST_S = 0.004
"""Where samples are further apart than this, the hand may push on within two of them, so that the
blow stands out in a single one only."""
PAIR_LEAST_M_S = 0.015
"""Loss and push each, where the two of them tell a blow."""
PUSH_LEFT = 0.35
"""Two samples after its greatest no more than this part of a push is left."""
LONGER_GAIN = 1.1
PULSE_MOST_S = 0.06
"""A change of speed spread over longer than this was not sudden."""
APART_S = 0.06
"""Of spikes closer than this only the greatest is kept."""


@dataclass(frozen=True, eq=False)
class Spikes:
    """Spikes in order of time.

    Parameters
    ----------
    index : ndarray of int, shape (k,)
        Sample in the middle of each.
    change_m_s : ndarray, shape (k, d)
        Change of speed, as far as the sensor's range lets it be seen.
    """

    index: np.ndarray
    change_m_s: FloatArray


def margin_samples(period_s: float) -> int:
    """Return how many samples on each side a spike's standing depends on."""
    return max(PULSE_SAMPLES) + 2 + int(np.ceil(APART_S / period_s))


def find_spikes(
    force_m_s2: FloatArray,
    *,
    period_s: float,
    is_loss: bool = False,
    most_s: float = PULSE_MOST_S,
) -> Spikes:
    """Return the local maxima of sudden change of speed.

    Parameters
    ----------
    force_m_s2 : ndarray, shape (n, d)
        Specific force along d directions.
    period_s : float
        Sampling period.
    is_loss : bool
        Count changes against the first direction; great ones along it too, as these may be what
        is seen of a clipped blow.
    most_s : float
        A change of speed spread over longer than this was not sudden.

    Returns
    -------
    Spikes
        Those at least SPIKE_LEAST_M_S large; the outermost samples are not searched.
    """
    best, change = _sudden(np.ascontiguousarray(force_m_s2), period_s, is_loss, most_s)
    index = _greatest(best, round(APART_S / period_s), SPIKE_LEAST_M_S)
    return Spikes(index=index, change_m_s=change[index])


@compiled
def _sudden(
    force_m_s2: FloatArray, period_s: float, is_loss: bool, most_s: float
) -> tuple[FloatArray, FloatArray]:
    """Return the greatest sudden change of speed in the middle of each sample, and its size."""
    n, d = force_m_s2.shape
    best, change = np.zeros(n), np.zeros((n, d))
    area, inside = np.empty(d), np.empty(d)
    for rank in range(len(PULSE_SAMPLES)):
        length = PULSE_SAMPLES[rank]
        if not _is_tried(length, period_s, most_s):
            continue
        for j in range(d):
            inside[j] = 0.0
        for k in range(n - length - 1):
            side, whole = 0.0, 0.0
            # sum over the pulse less the straight line between its neighbours
            for j in range(d):
                if k == 0:
                    for i in range(1, length + 1):
                        inside[j] += force_m_s2[i, j]
                else:
                    inside[j] += force_m_s2[k + length, j] - force_m_s2[k, j]
                left, right = force_m_s2[k, j], force_m_s2[k + length + 1, j]
                area[j] = period_s * (inside[j] - 0.5 * length * (left + right))
                side += (right - left) ** 2
                whole += area[j] ** 2
            size = np.sqrt(whole)
            if is_loss:
                size = _loss_size(area[0], length * period_s)
            # beside a blow, the blow itself is a neighbour and turns the sign
            if np.sqrt(side) * length * period_s > abs(size):
                continue
            # a longer stretch must see clearly more, as it says less well where the blow was
            size /= LONGER_GAIN ** max(rank - 1, 0)
            middle = k + 1 + length // 2
            if size > best[middle]:
                best[middle] = size
                for j in range(d):
                    change[middle, j] = area[j]
    if is_loss and period_s > LONE_LEAST_S:
        _with_pushes(best, change, force_m_s2, period_s)
    return best, change


@compiled
def _is_tried(length: int, period_s: float, most_s: float) -> bool:
    """Return whether a blow may last so many samples; the shortest is always tried."""
    if period_s > LONE_LEAST_S:
        return length == 1 or length * period_s <= most_s
    return length == 2 or (length > 2 and length * period_s <= most_s)


@compiled
def _with_pushes(
    best: FloatArray, change: FloatArray, force_m_s2: FloatArray, period_s: float
) -> None:
    """Add what tells a soft blow where samples are far apart.

    The hand's push takes most of the blow back within the next two of them: half of it counts with
    the loss before it. A blow between two samples leaves the push alone, which does not last.
    """
    earlier, before = 0.0, 0.0
    for k in range(2, len(best) - 2):
        x, ahead = force_m_s2[k, 0], force_m_s2[k - 2, 0]
        area = period_s * (x - 0.5 * (force_m_s2[k - 1, 0] + force_m_s2[k + 1, 0]))
        left = min(force_m_s2[k + 1, 0], force_m_s2[k + 2, 0]) - ahead
        if area > best[k] and left < PUSH_LEFT * (x - ahead):
            best[k] = area
            change[k, 0] = area
        at, lost = (k - 1, -before) if before < earlier else (k - 2, -earlier)
        # a delivery that begins at once has a corner there as well, but does not go back first
        level = max(force_m_s2[max(at - 1, 0), 0], force_m_s2[max(at - 2, 0), 0])
        dip = period_s * (level - force_m_s2[at, 0])
        if min(area, lost, dip) > PAIR_LEAST_M_S and lost + 0.5 * area > best[at]:
            best[at] = lost + 0.5 * area
            change[at, 0] = -lost
        earlier, before = before, area


@compiled
def _loss_size(area: float, lasted_s: float) -> float:
    """Return what counts as a loss: a gain does where it may be the hand's push after a blow.

    A blow beyond the range of the converter leaves little in the samples; the hand that drives on
    is seen in full.
    """
    if area < REBOUND_LEAST_M_S:
        return -area
    return area - REBOUND_LEAST_M_S if lasted_s < PUSH_MOST_S else 0.0


@compiled
def _greatest(values: FloatArray, apart: int, least: float) -> IntArray:
    """Return where values are greatest within their neighbourhood, the first of equal ones."""
    found, n_found = np.empty(len(values), np.int64), 0
    for k in range(len(values)):
        if values[k] < least:
            continue
        is_greatest = True
        for i in range(max(0, k - apart), min(len(values), k + apart + 1)):
            if values[i] > values[k] or (i < k and values[i] == values[k]):
                is_greatest = False
                break
        if is_greatest:
            found[n_found] = k
            n_found += 1
    return found[:n_found]
