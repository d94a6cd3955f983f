"""Protocols this project reads, by kind: one file and one line here for each."""

from cue_sensors.decoders import movesense, stroke_stream, thingy52, wt901
from cue_sensors.decoders.packet import Commands, Decoder, Packet
from cue_sensors.errors import SensorError

__all__ = ["Commands", "Decoder", "Packet", "decoder_for", "decoders"]

decoders: dict[str, Decoder] = {
    decoder.kind: decoder
    for decoder in (
        stroke_stream.DECODER,
        movesense.DECODER,
        thingy52.DECODER,
        wt901.DECODER,
    )
}
"""All decoders by their kind."""


def decoder_for(kind: str) -> Decoder:
    """Return the decoder of a kind.

    Parameters
    ----------
    kind : str
        Key as in ``SensorInfo.kind``.

    Returns
    -------
    Decoder
        The protocol's decoder.

    Raises
    ------
    SensorError
        If there is none of that kind.
    """
    if kind not in decoders:
        known = ", ".join(sorted(decoders))
        raise SensorError(f"No decoder for sensors of kind {kind!r}; known kinds are {known}.")
    return decoders[kind]
