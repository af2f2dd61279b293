"""`results.json`: frozen results written out, read back, and described by a JSON Schema."""

from gearing.messages.told import Told
from gearing.results.decode import decoded
from gearing.results.encode import (
    SCHEMA,
    dumps,
    plain,
    pointer_part,
    read,
    with_messages,
)

__all__ = [
    "SCHEMA",
    "Told",
    "decoded",
    "dumps",
    "plain",
    "pointer_part",
    "read",
    "with_messages",
]
