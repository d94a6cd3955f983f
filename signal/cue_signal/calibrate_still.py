"""The attitudes in which a sensor lay still, found while samples arrive.

Samples are gathered into blocks of a quarter second. A run of quiet blocks that do not drift is
one attitude; its first and last block are left out, so that setting down and taking up do not
count. How the samples are cut into pieces makes no difference.
"""

from dataclasses import dataclass, field

import numpy as np

from cue_sensors.samples import GAP_FACTOR, FloatArray, Samples

BLOCK_S = 0.25
LEAST_BLOCKS = 4
"""Blocks of one attitude that count, after the first and the last are left out."""
QUIET_M_S2 = 0.25
"""Spread within a block, all axes together: a sensor that lies, or leans on something."""
QUIET_RATE_RAD_S = 0.12
STEP_M_S2 = 0.08
"""From one block to the next."""
WANDER_M_S2 = 0.15
"""From the first block of a run."""
LEAST_FORCE_M_S2, MOST_FORCE_M_S2 = 7.5, 12.0
FLOOR_M_S2 = 0.002
"""What a small accelerometer wanders by within minutes (0.2 mg; data-sheet size, from memory)."""
GYRO_FLOOR_RAD_S = 1e-4
"""A gyroscope's bias instability (6e-3 deg/s; data-sheet size, from memory)."""


@dataclass(frozen=True, eq=False)
class Attitude:
    """A stretch over which the sensor lay still.

    Parameters
    ----------
    start_s, stop_s : float
        Where it lies on the recording's axis.
    force_m_s2, force_sd_m_s2 : ndarray, shape (3,)
        Mean reading of the accelerometer and the standard uncertainty of that mean.
    rate_rad_s, rate_sd_rad_s : ndarray, shape (3,), or None
        The same for the gyroscope.
    """

    start_s: float
    stop_s: float
    force_m_s2: FloatArray
    force_sd_m_s2: FloatArray
    rate_rad_s: FloatArray | None
    rate_sd_rad_s: FloatArray | None

    @property
    def up(self) -> FloatArray:
        """Return the unit vector, shape (3,), that points up in the sensor's frame."""
        size = np.linalg.norm(self.force_m_s2)
        return np.asarray(self.force_m_s2 / size, dtype=np.float64)


@dataclass(frozen=True, eq=False)
class _Block:
    """Means of a quarter second, and whether it was quiet."""

    start_s: float
    stop_s: float
    force_m_s2: FloatArray
    rate_rad_s: FloatArray | None
    is_quiet: bool


@dataclass(eq=False)
class StillFinder:
    """Gathers samples and knows the attitudes so far."""

    _held: Samples | None = None
    _n_block: int = 0
    _run: list[_Block] = field(default_factory=list)
    _closed: list[Attitude] = field(default_factory=list)
    _last: _Block | None = None

    def push(self, samples: Samples) -> None:
        """Take samples, later than all before; may be none.

        Parameters
        ----------
        samples : Samples
            Next piece of the stream.
        """
        if len(samples) == 0:
            return
        self._n_block = self._n_block or max(4, round(BLOCK_S * samples.rate_hz))
        held = samples if self._held is None else joined(self._held, samples)
        n_whole = len(held) // self._n_block
        for k in range(n_whole):
            self._take(_block(_part(held, k * self._n_block, (k + 1) * self._n_block)))
        self._held = _part(held, n_whole * self._n_block, len(held))

    @property
    def attitudes(self) -> list[Attitude]:
        """Return all attitudes so far, in order of time, the present one included."""
        now = _attitude(self._run)
        return [*self._closed, now] if now is not None else list(self._closed)

    @property
    def is_still(self) -> bool:
        """Return whether the sensor lies still at present."""
        return len(self._run) > 1

    @property
    def still_s(self) -> float:
        """Return for how long it has been lying still."""
        return self._run[-1].stop_s - self._run[0].start_s if self._run else 0.0

    @property
    def up(self) -> FloatArray | None:
        """Return the unit vector that points up now, None before the first block."""
        if self._last is None:
            return None
        size = max(float(np.linalg.norm(self._last.force_m_s2)), 1e-9)
        return np.asarray(self._last.force_m_s2 / size, dtype=np.float64)

    def _take(self, block: _Block) -> None:
        """Add one block to the present run, or end that."""
        self._last = block
        if self._run and not self._goes_on(block):
            attitude = _attitude(self._run)
            self._closed += [] if attitude is None else [attitude]
            self._run = []
        if block.is_quiet:
            self._run.append(block)

    def _goes_on(self, block: _Block) -> bool:
        """Return whether a block belongs to the present run."""
        step = np.linalg.norm(block.force_m_s2 - self._run[-1].force_m_s2)
        wander = np.linalg.norm(block.force_m_s2 - self._run[0].force_m_s2)
        follows = block.start_s - self._run[-1].stop_s < BLOCK_S
        return bool(block.is_quiet and follows and step < STEP_M_S2 and wander < WANDER_M_S2)


def find_attitudes(samples: Samples) -> list[Attitude]:
    """Return the attitudes in which the sensor lay still for a second and a half or longer.

    Parameters
    ----------
    samples : Samples
        A whole recording.

    Returns
    -------
    list of Attitude
        In order of time.
    """
    finder = StillFinder()
    finder.push(samples)
    return finder.attitudes


def n_apart(attitudes: list[Attitude], *, angle_rad: float) -> int:
    """Return how many attitudes differ from each other by at least an angle.

    Parameters
    ----------
    attitudes : list of Attitude
        To be counted.
    angle_rad : float
        Between what points up in the one and in the other.
    """
    kept: list[FloatArray] = []
    for one in attitudes:
        if all(float(one.up @ other) < np.cos(angle_rad) for other in kept):
            kept.append(one.up)
    return len(kept)


def _block(samples: Samples) -> _Block:
    """Return the means of one block."""
    force, rate = samples.specific_force_m_s2, samples.angular_rate_rad_s
    mean = force.mean(axis=0)
    lasted = (samples.time_s[-1] - samples.time_s[0]) * samples.rate_hz
    is_quiet = (
        float(np.sqrt(force.var(axis=0).sum())) < QUIET_M_S2
        and LEAST_FORCE_M_S2 < float(np.linalg.norm(mean)) < MOST_FORCE_M_S2
        and not samples.is_clipped.any()
        and lasted < len(samples) - 2.0 + GAP_FACTOR
    )
    if rate is not None:
        spread = float(np.sqrt(rate.var(axis=0).sum()))
        is_quiet &= spread < QUIET_RATE_RAD_S
        is_quiet &= float(np.linalg.norm(rate.mean(axis=0))) < 2.0 * QUIET_RATE_RAD_S
    return _Block(
        float(samples.time_s[0]),
        float(samples.time_s[-1]),
        mean,
        None if rate is None else rate.mean(axis=0),
        bool(is_quiet),
    )


def _attitude(run: list[_Block]) -> Attitude | None:
    """Return a run of quiet blocks as an attitude, None where it is too short."""
    used = run[1:-1]
    if len(used) < LEAST_BLOCKS:
        return None
    force = np.array([block.force_m_s2 for block in used])
    rates = [block.rate_rad_s for block in used if block.rate_rad_s is not None]
    rate = np.array(rates) if rates else None
    return Attitude(
        start_s=used[0].start_s,
        stop_s=used[-1].stop_s,
        force_m_s2=force.mean(axis=0),
        force_sd_m_s2=_sd_of_mean(force, FLOOR_M_S2),
        rate_rad_s=None if rate is None else rate.mean(axis=0),
        rate_sd_rad_s=None if rate is None else _sd_of_mean(rate, GYRO_FLOOR_RAD_S),
    )


def _sd_of_mean(means: FloatArray, floor: float) -> FloatArray:
    """Return the standard uncertainty of the mean of block means; sway makes them differ."""
    # one spread for all axes: from four blocks alone a single axis's would be a lottery
    spread = float(np.sqrt(means.var(axis=0, ddof=1).mean()))
    return np.full(3, np.hypot(spread / np.sqrt(len(means)), floor))


def _part(samples: Samples, first: int, last: int) -> Samples:
    """Return the samples [first, last)."""
    rate = samples.angular_rate_rad_s
    return Samples(
        samples.time_s[first:last],
        samples.specific_force_m_s2[first:last],
        None if rate is None else rate[first:last],
        samples.is_clipped[first:last],
        samples.rate_hz,
    )


def still_now(samples: Samples) -> tuple[float, FloatArray | None]:
    """Return for how long, in seconds, the sensor has been still at the end, and what points up.

    Parameters
    ----------
    samples : Samples
        The last few seconds or more.
    """
    n = max(4, round(BLOCK_S * samples.rate_hz))
    still_s, last = 0.0, None
    for stop in range(len(samples), max(n, len(samples) - 8 * n) - 1, -n):
        block = _block(_part(samples, stop - n, stop))
        last = last or block
        if not block.is_quiet or np.linalg.norm(block.force_m_s2 - last.force_m_s2) > WANDER_M_S2:
            break
        still_s += BLOCK_S
    if last is None:
        return 0.0, None
    return still_s, last.force_m_s2 / max(float(np.linalg.norm(last.force_m_s2)), 1e-9)


def joined(first: Samples, second: Samples) -> Samples:
    """Return two pieces of the same stream as one; either may be empty.

    Parameters
    ----------
    first, second : Samples
        In order of time.
    """
    rates = [one.angular_rate_rad_s for one in (first, second)]
    rate = None
    if rates[0] is not None and rates[1] is not None:
        rate = np.concatenate([rates[0], rates[1]])
    return Samples(
        np.concatenate([first.time_s, second.time_s]),
        np.concatenate([first.specific_force_m_s2, second.specific_force_m_s2]),
        rate,
        np.concatenate([first.is_clipped, second.is_clipped]),
        second.rate_hz,
    )
