"""Curves of one coordinate in time, each with its exact rate and acceleration.

A curve says nothing before its start, and keeps its last value after its end. Evaluated it gives
an array of three rows: value, first derivative, second derivative. They are closed forms, so a
motion built from them has no differentiation error at all.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.polynomial import Polynomial
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


class Curve(Protocol):
    """A coordinate's course between two times."""

    @property
    def start_s(self) -> float:
        """Return the time before which the curve is zero."""
        ...

    @property
    def stop_s(self) -> float:
        """Return the time after which it stays as it is."""
        ...

    @property
    def final(self) -> float:
        """Return the value it keeps."""
        ...

    def at(self, time_s: FloatArray) -> FloatArray:
        """Return value, rate and acceleration, shape (3, n), at times inside it."""
        ...


@dataclass(frozen=True)
class Move:
    """A change from rest to rest, of least jerk (a fifth-degree polynomial).

    Form: Flash and Hogan 1985, J. Neurosci. 5(7), 1688, equation of the straight reach
    (from memory).
    """

    start_s: float
    stop_s: float
    final: float

    def at(self, time_s: FloatArray) -> FloatArray:
        """Return value, rate and acceleration, shape (3, n)."""
        span = self.stop_s - self.start_s
        x = np.clip((time_s - self.start_s) / span, 0.0, 1.0)
        return np.stack(
            [
                self.final * x**3 * (10 + x * (6 * x - 15)),
                self.final / span * 30 * (x * (1 - x)) ** 2,
                self.final / span**2 * 60 * x * (1 + x * (2 * x - 3)),
            ]
        )


@dataclass(frozen=True)
class Path:
    """Polynomials of the coordinate in local time, one after the other.

    Parameters
    ----------
    start_s : float
        When the first begins.
    spans_s : tuple of float
        How long each lasts.
    pieces : tuple of Polynomial
        The coordinate in seconds since the piece began.
    """

    start_s: float
    spans_s: tuple[float, ...]
    pieces: tuple[Polynomial, ...]

    @property
    def stop_s(self) -> float:
        """Return the end of the last piece."""
        return self.start_s + sum(self.spans_s)

    @property
    def final(self) -> float:
        """Return the coordinate at the end."""
        return float(self.pieces[-1](self.spans_s[-1]))

    def at(self, time_s: FloatArray) -> FloatArray:
        """Return value, rate and acceleration, shape (3, n)."""
        out = np.zeros((3, len(time_s)))
        out[0] = self.final
        edges = self.start_s + np.concatenate([[0.0], np.cumsum(self.spans_s)])
        for piece, first, last in zip(self.pieces, edges[:-1], edges[1:], strict=True):
            inside = (time_s >= first) & (time_s < last)
            local = time_s[inside] - first
            out[:, inside] = [piece(local), piece.deriv(1)(local), piece.deriv(2)(local)]
        out[:, time_s < self.start_s] = 0.0
        return out


@dataclass(frozen=True)
class Contact:
    """The part of the speed that a hit takes away, given back before the touch.

    The path of the cue jumps from its speed before to its speed after; this curve starts with
    that jump and falls to nothing as the half-sine force of the contact acts, so that their sum
    is smooth.
    """

    start_s: float
    span_s: float
    loss_m_s: float

    @property
    def stop_s(self) -> float:
        """Return when tip and ball part."""
        return self.start_s + self.span_s

    @property
    def final(self) -> float:
        """Return the way gained meanwhile on the path after the hit."""
        return self.loss_m_s * self.span_s / 2

    def at(self, time_s: FloatArray) -> FloatArray:
        """Return value, rate and acceleration, shape (3, n)."""
        tau = np.clip(time_s - self.start_s, 0.0, self.span_s)
        angle = np.pi * tau / self.span_s
        inside = (time_s >= self.start_s) & (time_s < self.stop_s)
        way = self.loss_m_s * (tau / 2 + self.span_s / (2 * np.pi) * np.sin(angle))
        speed = np.where(inside, self.loss_m_s * (1 + np.cos(angle)) / 2, 0.0)
        accel = np.where(inside, -self.loss_m_s * np.pi / (2 * self.span_s) * np.sin(angle), 0.0)
        return np.stack([way, speed, accel])


@dataclass(frozen=True)
class Ring:
    """A damped vibration that begins with a soft edge and leaves nothing behind.

    Value: amplitude * edge(tau / rise_s) * exp(-damping_1_s * tau) * sin(2 pi frequency tau), with
    edge(x) = 1 - exp(-x)(1 + x), which starts as x^2 / 2.
    """

    start_s: float
    amplitude: float
    frequency_hz: float
    damping_1_s: float
    rise_s: float = 0.0005

    @property
    def stop_s(self) -> float:
        """Return when less than a ten millionth of it is left."""
        return self.start_s + 16.0 / self.damping_1_s

    @property
    def final(self) -> float:
        """Return 0: a vibration ends where it began."""
        return 0.0

    def at(self, time_s: FloatArray) -> FloatArray:
        """Return value, rate and acceleration, shape (3, n)."""
        tau = np.clip(time_s - self.start_s, 0.0, None)
        # The whole is the imaginary part of edge * exp(z tau): derivatives follow term by term.
        z = complex(-self.damping_1_s, 2 * np.pi * self.frequency_hz)
        wave = np.exp(z * tau)
        x = tau / self.rise_s
        fade = np.exp(-x)
        edge = 1 - fade * (1 + x)
        edge_rate = x * fade / self.rise_s
        edge_accel = (1 - x) * fade / self.rise_s**2
        rows = [
            edge * wave,
            (edge_rate + z * edge) * wave,
            (edge_accel + 2 * z * edge_rate + z**2 * edge) * wave,
        ]
        inside = (time_s >= self.start_s) & (time_s < self.stop_s)
        return np.where(inside, self.amplitude * np.imag(np.stack(rows)), 0.0)


@dataclass(frozen=True)
class Wave:
    """A sinusoid that swells from nothing and dies down to nothing."""

    start_s: float
    stop_s: float
    amplitude: float
    frequency_hz: float
    phase_rad: float = 0.0
    ramp_s: float = 0.4

    @property
    def final(self) -> float:
        """Return 0: it dies down."""
        return 0.0

    def at(self, time_s: FloatArray) -> FloatArray:
        """Return value, rate and acceleration, shape (3, n)."""
        ramp = min(self.ramp_s, (self.stop_s - self.start_s) / 2)
        up = Move(self.start_s, self.start_s + ramp, 1.0).at(time_s)
        down = Move(self.stop_s - ramp, self.stop_s, -1.0).at(time_s)
        omega = 2 * np.pi * self.frequency_hz
        angle = omega * (time_s - self.start_s) + self.phase_rad
        sine, cosine = self.amplitude * np.sin(angle), self.amplitude * np.cos(angle)
        return product(up + down, np.stack([sine, omega * cosine, -(omega**2) * sine]))


@dataclass(frozen=True)
class Hum:
    """A sum of sinusoids that never stops: tremor, breathing, sway."""

    amplitudes: tuple[float, ...]
    frequencies_hz: tuple[float, ...]
    phases_rad: tuple[float, ...]

    @property
    def start_s(self) -> float:
        """Return minus infinity: it has always been there."""
        return -np.inf

    @property
    def stop_s(self) -> float:
        """Return infinity: it goes on."""
        return np.inf

    @property
    def final(self) -> float:
        """Return 0, never asked for."""
        return 0.0

    def at(self, time_s: FloatArray) -> FloatArray:
        """Return value, rate and acceleration, shape (3, n)."""
        out = np.zeros((3, len(time_s)))
        for size, frequency, phase in zip(
            self.amplitudes, self.frequencies_hz, self.phases_rad, strict=True
        ):
            omega = 2 * np.pi * frequency
            sine = size * np.sin(omega * time_s + phase)
            out[0] += sine
            out[1] += size * omega * np.cos(omega * time_s + phase)
            out[2] -= omega**2 * sine
        return out


def product(a: FloatArray, b: FloatArray) -> FloatArray:
    """Return the product of two evaluated curves, by Leibniz' rule."""
    return np.stack(
        [a[0] * b[0], a[1] * b[0] + a[0] * b[1], a[2] * b[0] + 2 * a[1] * b[1] + a[0] * b[2]]
    )


def hermite(
    start: tuple[float, float, float], stop: tuple[float, float, float], span: float
) -> Polynomial:
    """Return the fifth-degree polynomial with these values, rates and accelerations at its ends."""
    value, rate, accel = start
    a3, a4, a5 = np.linalg.solve(
        np.array(
            [
                [span**3, span**4, span**5],
                [3 * span**2, 4 * span**3, 5 * span**4],
                [6 * span, 12 * span**2, 20 * span**3],
            ]
        ),
        np.array(
            [
                stop[0] - value - rate * span - accel * span**2 / 2,
                stop[1] - rate - accel * span,
                stop[2] - accel,
            ]
        ),
    )
    return Polynomial([value, rate, accel / 2, a3, a4, a5])
