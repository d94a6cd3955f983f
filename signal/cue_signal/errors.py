"""What can go wrong between samples and strokes."""


class SignalError(Exception):
    """Samples from which no stroke can honestly be measured."""
