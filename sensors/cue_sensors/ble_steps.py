"""Steps of a Bluetooth connection: how long each may take, and what to say when one fails."""

import asyncio
from collections.abc import Awaitable
from dataclasses import dataclass
from typing import Final, TypeVar

from bleak.exc import BleakError

from cue_sensors.errors import SensorError

T = TypeVar("T")


@dataclass(frozen=True)
class BleSettings:
    """How patient the supervisor is, in seconds.

    Parameters
    ----------
    scan_s, connect_s, step_s : float
        Time-outs of scanning, of connecting, of every other step.
    stall_s : float
        Silence after which a connection is taken for dead, whatever the system says.
    battery_s : float
        The battery is asked so often where it does not tell by itself.
    back_off_s : tuple of float
        Waits before the first, second … new attempt; the last holds from then on.
    """

    scan_s: float = 10.0
    connect_s: float = 15.0
    step_s: float = 5.0
    stall_s: float = 1.5
    battery_s: float = 60.0
    back_off_s: tuple[float, ...] = (0.25, 0.5, 1.0, 2.0, 4.0, 5.0)


class StepError(SensorError):
    """A step of the connection that failed.

    Parameters
    ----------
    step : str
        Which step.
    problem, remedy : str
        What happened, and what to try, as sentences.
    """

    def __init__(self, step: str, problem: str, remedy: str) -> None:
        super().__init__(f"{problem} {remedy}")
        self.step = step


REMEDIES: Final = {
    "scan": "Switch Bluetooth on, and allow this program to use it.",
    "connect": "Bring the sensor nearer, and close other programs that use it.",
    "describe": "Switch the sensor off and on; it may be of another kind.",
    "set": "Ask for another rate or range, or for none.",
    "subscribe": "Switch the sensor off and on; it may be of another kind.",
    "start": "Switch the sensor off and on.",
}


async def guarded(step: Awaitable[T], name: str, seconds: float) -> T:
    """Return what a step returns; its failure or time-out becomes a StepError in a sentence."""
    try:
        return await asyncio.wait_for(step, seconds)
    except TimeoutError as error:
        problem = f"Bluetooth step {name} took more than {seconds:g} s."
        raise StepError(name, problem, REMEDIES[name]) from error
    except (BleakError, OSError, EOFError) as error:
        problem = f"Bluetooth step {name} failed ({error})."
        raise StepError(name, problem, REMEDIES[name]) from error
