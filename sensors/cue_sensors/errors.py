"""What can go wrong between the air and the samples, in sentences a player can act on."""


class SensorError(Exception):
    """A sensor, a packet or a recording that cannot be used as it is."""


class RecordingError(SensorError):
    """A recording or CSV file that cannot be read.

    Parameters
    ----------
    file : str
        Name of the file as the user gave it.
    place : str
        Where in it, for example ``"line 12, column ax_m_s2"``; may be empty.
    problem : str
        What is wrong, with the value and its unit, as a sentence.
    remedy : str
        What to do about it, as a sentence.
    """

    def __init__(self, file: str, place: str, problem: str, remedy: str) -> None:
        where = f"{file}, {place}" if place else file
        super().__init__(f"{where}: {problem} {remedy}")
        self.file = file
        self.place = place
        self.problem = problem
        self.remedy = remedy


class DecodeError(SensorError):
    """A notification that does not follow its protocol."""
