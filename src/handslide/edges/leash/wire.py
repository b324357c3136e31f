"""Messages on a pipe between a program and its child: a length and a pickled value."""

import pickle
import struct
from typing import Any, BinaryIO

_HEAD = struct.Struct("<Q")


def send(pipe: BinaryIO, message: Any) -> None:
    """Write one message. Raises OSError when nobody reads any more."""
    data = pickle.dumps(message, pickle.HIGHEST_PROTOCOL)
    pipe.write(_HEAD.pack(len(data)))
    pipe.write(data)
    pipe.flush()


def receive(pipe: BinaryIO) -> Any:
    """Read one message. Raises EOFError when the other side is gone."""
    (length,) = _HEAD.unpack(_exactly(pipe, _HEAD.size))
    return pickle.loads(_exactly(pipe, length))


def _exactly(pipe: BinaryIO, count: int) -> bytes:
    data = pipe.read(count)
    if len(data) < count:
        raise EOFError
    return data
