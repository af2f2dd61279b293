"""What is packed: members of zip archives, unpacked within bounds whatever their method."""

from __future__ import annotations

import bz2
import gzip
import lzma
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import IO

from gearing.logs.endings import is_log
from gearing.messages import Message, Quantity, UserText, message

MAX_BYTES = 4 << 30  # no log is larger unpacked
FREE_BYTES = 64 << 20  # up to here any ratio of packing is believed
MAX_MEMBERS = 5000
MAX_RATIO = 100  # text logs pack 5 to 30 times
BLOCK = 1 << 20
_LARGEST_DICTIONARY = 64 << 20
_LOCAL_HEADER = 30  # bytes, the name and the extra field behind it (PKWARE APPNOTE, 4.3.7)


class LogFileError(Exception):
    """The file as a whole cannot be read: `told` says why."""

    def __init__(self, told: Message) -> None:
        super().__init__(told)
        self.told = told


def _damaged(error: Exception) -> LogFileError:
    return LogFileError(message("damaged-archive", system=UserText(str(error), "system")))


@dataclass(frozen=True, slots=True)
class LogSource:
    """A log where it lies: a file, or one of several in an archive (`member`, by its place)."""

    path: Path
    member: int | None = None
    inner: str = ""  # the member's name

    def shown(self, file: str) -> str:
        """The log's name, where its file is shown as `file`."""
        return f"{file}/{self.inner}" if self.inner else file


def sources(path: Path) -> list[LogSource]:
    """The logs in a file: itself, or each of the several that a zip archive holds."""
    if path.suffix.lower() != ".zip":
        return [LogSource(path)]
    try:
        if not path.is_file():
            return [LogSource(path)]
        with opened_zip(path) as archive:
            logs = [m for m in log_members(archive) if is_log(PurePath(m.filename))]
            if not 1 < len(logs) <= MAX_MEMBERS:
                return [LogSource(path)]  # reading it will tell
            place = {id(member): i for i, member in enumerate(archive.infolist())}
            return [LogSource(path, place[id(m)], _plain_name(m.filename)) for m in logs]
    except (LogFileError, OSError):
        return [LogSource(path)]


def _plain_name(name: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in name)


@contextmanager
def opened_zip(source: Path | IO[bytes]) -> Iterator[zipfile.ZipFile]:
    """A zip archive; whatever is wrong with it while it is open is one error.

    Raises
    ------
    LogFileError
        the archive is damaged, encrypted or packed by a method that is not known.
    """
    try:
        with zipfile.ZipFile(source) as archive:
            yield archive
    except (zipfile.BadZipFile, zlib.error, lzma.LZMAError, struct.error, EOFError) as error:
        raise _damaged(error) from None
    except (RuntimeError, NotImplementedError, OSError, ValueError, OverflowError) as error:
        raise _damaged(error) from None


def log_members(archive: zipfile.ZipFile) -> list[zipfile.ZipInfo]:
    """The files in the archive, without what systems add.

    Raises
    ------
    LogFileError
        it is a spreadsheet.
    """
    members = [m for m in archive.infolist() if not m.is_dir()]
    if any(m.filename.startswith(("xl/", "content.xml")) for m in members):
        raise LogFileError(message("spreadsheet"))
    return [
        m
        for m in members
        if not m.filename.startswith("__MACOSX/")
        and not m.filename.rsplit("/", 1)[-1].startswith(".")
    ]


def unzipped(archive: zipfile.ZipFile, member: zipfile.ZipInfo) -> bytes:
    """The content of a member.

    Raises
    ------
    LogFileError
        it grows beyond what a log can be.
    """
    if member.compress_type not in (zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA):
        with archive.open(member) as stream:
            return bounded(stream, member.compress_size)
    if member.flag_bits & 1:
        raise LogFileError(message("damaged-archive/encrypted"))
    # the standard library unpacks these without bound, whatever size is asked for
    packed = _packed(archive, member)
    if member.compress_type == zipfile.ZIP_BZIP2:
        content = _unpacked(bz2.BZ2Decompressor(), packed)
    else:
        content = _unpacked(*_lzma(packed))
    if zlib.crc32(content) != member.CRC:
        raise LogFileError(message("damaged-archive/checksum"))
    return content


def _packed(archive: zipfile.ZipFile, member: zipfile.ZipInfo) -> bytes:
    source = archive.fp
    assert source is not None
    source.seek(member.header_offset)
    header = source.read(_LOCAL_HEADER)
    if header[:4] != b"PK\x03\x04":
        raise LogFileError(message("damaged-archive/misplaced"))
    name, extra = struct.unpack("<HH", header[26:30])
    source.seek(name + extra, 1)
    return source.read(member.compress_size)


def _lzma(packed: bytes) -> tuple[lzma.LZMADecompressor, bytes]:
    """The decoder that the member's own properties ask for (APPNOTE, 5.8.8), and its input."""
    _, size = struct.unpack("<HH", packed[:4])
    bits, dictionary = struct.unpack("<BI", packed[4:9])
    if size != 5 or bits >= 225 or dictionary > _LARGEST_DICTIONARY:
        raise LogFileError(message("damaged-archive/lzma"))
    own = {"id": lzma.FILTER_LZMA1, "dict_size": max(dictionary, 4096),
           "lc": bits % 9, "lp": bits // 9 % 5, "pb": bits // 45}  # fmt: skip
    return lzma.LZMADecompressor(lzma.FORMAT_RAW, filters=[own]), packed[9:]


def _unpacked(unpacker: bz2.BZ2Decompressor | lzma.LZMADecompressor, packed: bytes) -> bytes:
    parts: list[bytes] = []
    size, most, feed = 0, most_bytes(len(packed)), packed
    while not unpacker.eof:
        part = unpacker.decompress(feed, BLOCK)
        feed = b""
        size += len(part)
        if size > most:
            raise too_large(len(packed))
        if not part and unpacker.needs_input:
            break
        parts.append(part)
    return b"".join(parts)


def most_bytes(packed: int) -> int:
    """How many bytes a log of this packed size can hold."""
    return min(MAX_BYTES, max(FREE_BYTES, MAX_RATIO * packed))


def too_large(packed: int) -> LogFileError:
    """The fault of what unpacks to more than a log of this packed size can hold [bytes]."""
    most = Quantity(most_bytes(packed) >> 20, "MB")
    return LogFileError(message("too-large-unpacked", most=most, packed=packed))


def bounded(stream: IO[bytes] | gzip.GzipFile, packed: int) -> bytes:
    """All of a stream that unpacks as it is read.

    Raises
    ------
    LogFileError
        it grows beyond what a log can be.
    """
    parts: list[bytes] = []
    size = 0
    while part := stream.read(BLOCK):
        size += len(part)
        if size > most_bytes(packed):
            raise too_large(packed)
        parts.append(part)
    return b"".join(parts)
