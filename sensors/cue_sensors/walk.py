"""Every intact message of an MCAP file, however the file ends and whatever is damaged in it.

Records are walked from the start, without the footer. A chunk counts only if its checksum is
right. Where the walk meets something that is no record, or a wrong checksum, it looks for the
next chunk with a right one, so that damage costs the chunk it hit and no other.
"""

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from mmap import mmap
from typing import Final

from mcap.data_stream import ReadDataStream
from mcap.exceptions import McapError
from mcap.records import Chunk, Metadata
from mcap.stream_reader import get_chunk_data_stream

MAGIC: Final = b"\x89MCAP0\r\n"
MAX_RECORD_BYTES: Final = 1 << 24
"""No record of ours comes near; a longer one is damage."""

_HEAD = struct.Struct("<BQ")
_CHUNK = struct.Struct("<QQQII")
_MESSAGE = struct.Struct("<HIQQ")
_MESSAGE_OPCODE: Final = 0x05
_CHUNK_OPCODE: Final = 0x06
_METADATA_OPCODE: Final = 0x0C
_DATA_END_OPCODE: Final = 0x0F
_OPCODES: Final = range(0x01, 0x10)
_DATA_END_BYTES: Final = 4


@dataclass(frozen=True)
class Damage:
    """A stretch of the file that holds no intact record.

    Parameters
    ----------
    start, stop : int
        Byte offsets, ``[start, stop)``.
    """

    start: int
    stop: int


@dataclass(frozen=True)
class StoredMessage:
    """A message as the file holds it.

    Parameters
    ----------
    channel, sequence : int
        Its channel and its number there.
    time_ns : int
        When it was logged, in nanoseconds since 1970 UTC.
    data : bytes
        Its content.
    """

    channel: int
    sequence: int
    time_ns: int
    data: bytes


@dataclass(frozen=True)
class End:
    """The file was closed properly: the end of its data stands here."""


Found = StoredMessage | Metadata | Damage | End


def walk(data: bytes | mmap) -> Iterator[Found]:
    """Yield everything of use in an MCAP file in order, and where it is damaged.

    Parameters
    ----------
    data : bytes or mmap
        The file's content, as much of it as there is.

    Yields
    ------
    StoredMessage, Metadata, Damage or End
        Messages of intact chunks, metadata records, stretches of damage, the proper end.
    """
    position = len(MAGIC) if data[: len(MAGIC)] == MAGIC else 0
    while position < len(data):
        stop = _record_stop(data, position) if position else None
        found = None if stop is None else _record(data, position, stop)
        if stop is None or found is None:
            stop = _next_chunk(data, position + 1)
            yield Damage(position, stop)
            found = []
        yield from found
        if found and isinstance(found[-1], End):
            return
        position = stop


def _record_stop(data: bytes | mmap, position: int) -> int | None:
    """Return where the record at a position stops, None if there can be no record."""
    if position + _HEAD.size > len(data):
        return None
    opcode, length = _HEAD.unpack_from(data, position)
    stop = int(position + _HEAD.size + length)
    if opcode not in _OPCODES or length > MAX_RECORD_BYTES or stop > len(data):
        return None
    return stop


def _record(data: bytes | mmap, position: int, stop: int) -> list[Found] | None:
    """Return what the record holds, None if it is damaged."""
    opcode = data[position]
    body = data[position + _HEAD.size : stop]
    if opcode == _CHUNK_OPCODE:
        content = _chunk_content(body)
        return None if content is None else _messages(content)
    if opcode == _DATA_END_OPCODE:
        return [End()] if len(body) == _DATA_END_BYTES else None
    if opcode == _METADATA_OPCODE:
        metadata = _metadata(body)
        return None if metadata is None else [metadata]
    return []


def _next_chunk(data: bytes | mmap, position: int) -> int:
    """Return where the next intact chunk starts, the end of the file if there is none."""
    while True:
        position = data.find(bytes([_CHUNK_OPCODE]), position)
        if position < 0:
            return len(data)
        stop = _record_stop(data, position)
        if stop is not None and _chunk_content(data[position + _HEAD.size : stop]) is not None:
            return position
        position += 1


def _chunk_content(body: bytes) -> bytes | None:
    """Return the records of a chunk, None if its checksum does not hold."""
    if len(body) < _CHUNK.size + 8:
        return None
    *_, crc, compression_length = _CHUNK.unpack_from(body)
    if compression_length:
        return _decompressed(body, crc)
    content = body[_CHUNK.size + 8 :]
    is_whole = int.from_bytes(body[_CHUNK.size : _CHUNK.size + 8], "little") == len(content)
    return content if is_whole and zlib.crc32(content) == crc else None


def _decompressed(body: bytes, crc: int) -> bytes | None:
    """Return the records of a chunk that some other program compressed, None if damaged."""
    try:
        chunk = Chunk.read(ReadDataStream(BytesIO(body)))
        stream, length = get_chunk_data_stream(chunk)
        content = stream.read(length)
    except Exception:  # the compressors raise types of their own on damaged data
        return None
    return content if zlib.crc32(content) == crc else None


def _messages(content: bytes) -> list[Found]:
    """Return the messages among a chunk's records."""
    messages: list[Found] = []
    position = 0
    while (stop := _record_stop(content, position)) is not None:
        start = position + _HEAD.size
        if content[position] == _MESSAGE_OPCODE and stop - start >= _MESSAGE.size:
            channel, sequence, time_ns, _ = _MESSAGE.unpack_from(content, start)
            data = content[start + _MESSAGE.size : stop]
            messages.append(StoredMessage(channel, sequence, time_ns, data))
        position = stop
    return messages


def _metadata(body: bytes) -> Metadata | None:
    """Return a metadata record, None if it is damaged beyond reading."""
    try:
        metadata: Metadata = Metadata.read(ReadDataStream(BytesIO(body)))
    except (McapError, ValueError, struct.error):
        return None
    return metadata
