"""From the file's bytes to clean UTF-8 text with LF line ends: unpack, decode, mend."""

from __future__ import annotations

import gzip
import io
import re
import stat
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import IO

from gearing.logs.archives import (
    BLOCK,
    FREE_BYTES,
    LogFileError,
    bounded,
    log_members,
    most_bytes,
    opened_zip,
    too_large,
    unzipped,
)
from gearing.logs.endings import is_log
from gearing.messages import Message, UserText, message

_FORMULA = re.compile(rb'((?:^|[,;\t|\n]))="(?=[^"\n]*"(?:[,;\t|\r\n]|$))')
_VISIBLE = re.compile(rb"[^\0 \t\r\n]")


@dataclass(frozen=True, slots=True)
class Text:
    """The file as text. `repairs` are what was mended on the way, and how often."""

    data: bytes  # UTF-8, LF
    encoding: str
    compression: str
    line_end: str
    repairs: tuple[tuple[Message, int], ...]
    name: str  # of the file itself, or of the one inside an archive


def load_text(path: Path, member: int | None = None) -> Text:
    """Read, unpack and decode `path`; of an archive of several logs the one at `member`.

    Raises
    ------
    LogFileError
        the file cannot be opened, unpacked or is no text.
    """
    if member is None:
        raw, compression, name = _unpack(_bytes_of(path), path.name)
    else:
        raw, compression, name = _unzipped(path, member)
    if not _VISIBLE.search(raw):
        raise LogFileError(message("empty-file"))
    data, encoding, repairs = _decode(raw)
    data, line_end, more = _mend(data)
    data, signs = _plain_signs(data)
    if not _VISIBLE.search(data):
        raise LogFileError(message("empty-file"))
    _refuse_binary(data)
    return Text(data, encoding, compression, line_end, (*repairs, *more, *signs), name)


def _the_log(archive: zipfile.ZipFile) -> zipfile.ZipInfo:
    members = log_members(archive)
    logs = [m for m in members if is_log(PurePath(m.filename))] or members
    if not logs:
        raise LogFileError(message("empty-file"))
    if len(logs) > 1:
        raise LogFileError(message("several-in-archive", files=len(logs)))
    return logs[0]


def _bytes_of(path: Path) -> bytes:
    try:
        if not is_plain(path):
            raise LogFileError(message("unreadable-file/not-plain"))
        with path.open("rb") as handle:
            if path.stat().st_size > FREE_BYTES and not _VISIBLE.search(handle.read(BLOCK)):
                raise LogFileError(message("not-text"))  # a hole in the disk, as large as it likes
            handle.seek(0)
            return handle.read()
    except OSError as error:
        words = UserText(error.strerror or str(error), "system")
        raise LogFileError(message("unreadable-file", system=words)) from None
    except MemoryError:
        raise LogFileError(message("unreadable-file/too-large")) from None


def is_plain(path: Path) -> bool:
    """Whether this is no folder, pipe or device, whose reading may never end.

    Raises
    ------
    OSError
        it is not there, or may not be looked at.
    """
    kind = path.stat().st_mode
    return stat.S_ISREG(kind) or stat.S_ISDIR(kind)  # reading a folder tells by itself


def _unzipped(source: Path | IO[bytes], member: int | None) -> tuple[bytes, str, str]:
    """The content and name of one member of a zip archive; None: of the only log in it."""
    with opened_zip(source) as archive:
        every = archive.infolist()
        if member is not None and member >= len(every):
            raise LogFileError(message("damaged-archive/changed"))
        one = _the_log(archive) if member is None else every[member]
        raw, name = unzipped(archive, one), one.filename.rsplit("/", 1)[-1]
    if raw[:2] == b"\x1f\x8b":
        raw, _, name = _unpack(raw, name)
    return raw, "zip", name


def _unpack(raw: bytes, name: str) -> tuple[bytes, str, str]:
    if raw[:2] == b"\x1f\x8b":
        inner = name[:-3] if name.lower().endswith(".gz") else name
        try:
            with gzip.GzipFile(fileobj=io.BytesIO(raw)) as stream:
                return bounded(stream, len(raw)), "gzip", inner
        except (OSError, EOFError, zlib.error):
            return _rescue_gzip(raw), "gzip", inner
    if raw[:4] == b"PK\x03\x04" or raw[:4] == b"PK\x05\x06":
        return _unzipped(io.BytesIO(raw), None)
    return raw, "", name


def _rescue_gzip(raw: bytes) -> bytes:
    """What a cut or damaged gzip file still gives; a recorder that lost power leaves one."""
    unpacker = zlib.decompressobj(wbits=31)
    most = most_bytes(len(raw))
    parts: list[bytes] = []
    size = 0
    source = memoryview(raw)
    try:
        for at in range(0, len(raw), 1 << 16):
            piece: bytes = bytes(source[at : at + (1 << 16)])
            while piece:
                part = unpacker.decompress(piece, BLOCK)
                size += len(part)
                if size > most:
                    raise too_large(len(raw))
                parts.append(part)
                piece = unpacker.unconsumed_tail
    except zlib.error:
        pass
    if not size:
        raise LogFileError(message("damaged-archive/nothing"))
    return b"".join(parts)


def _decode(raw: bytes) -> tuple[bytes, str, list[tuple[Message, int]]]:
    if raw.startswith(b"\xef\xbb\xbf"):
        raw = raw[3:]
        bom = " (BOM)"
    elif raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        name = "utf-16-le" if raw[0] == 0xFF else "utf-16-be"
        return _utf16(raw[2:], name)
    else:
        bom = ""
        name = _utf16_without_mark(raw)
        if name:
            return _utf16(raw, name)
    if raw.isascii():
        return raw, "UTF-8" + bom, []
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        pass
    else:
        return raw, "UTF-8" + bom, []
    replaced = raw.decode("utf-8", errors="replace")
    bad = replaced.count("\ufffd")
    good = len(replaced) - bad - len(raw.translate(None, bytes(range(128, 256))))  # beyond ASCII
    if bom or good > bad:
        return replaced.encode(), "UTF-8" + bom, [(message("undecodable-bytes"), bad)]
    text = raw.decode("cp1252", errors="replace")
    repairs = [(message("decoded-as-cp1252"), 1)]
    if bad := text.count("\ufffd"):
        repairs.append((message("undecodable-bytes"), bad))
    return text.encode(), "cp1252", repairs


def _utf16_without_mark(raw: bytes) -> str:
    """UTF-16 shows in zero bytes at every other place; mere damage does not."""
    head = raw[:4096]
    if len(head) < 16:
        return ""
    even, odd = head[0::2].count(0), head[1::2].count(0)
    half = len(head) // 2
    if odd > 0.7 * half and even < 0.1 * half:
        return "utf-16-le"
    if even > 0.7 * half and odd < 0.1 * half:
        return "utf-16-be"
    return ""


def _utf16(raw: bytes, name: str) -> tuple[bytes, str, list[tuple[Message, int]]]:
    text = raw.decode(name, errors="replace")
    bad = text.count("\ufffd")
    return (
        text.encode("utf-8", errors="replace"),
        name.upper(),
        [(message("undecodable-bytes"), bad)] if bad else [],
    )


def _mend(data: bytes) -> tuple[bytes, str, list[tuple[Message, int]]]:
    repairs: list[tuple[Message, int]] = []
    if b"\0" in data:
        nuls = data.count(b"\0")
        data = data.replace(b"\0", b"")
        repairs.append((message("nul-bytes"), nuls))
    if b"=" in data and b'="' in data:  # one byte is found at a tenth of the cost of two
        data, formulas = _FORMULA.subn(rb'\1"', data)
        if formulas:
            repairs.append((message("formula-cells"), formulas))
    line_end = "LF"
    if b"\r" in data:
        pairs, returns, feeds = data.count(b"\r\n"), data.count(b"\r"), data.count(b"\n")
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        line_end = "CRLF" if pairs == returns == feeds else "CR" if not feeds else "mixed"
        if line_end == "mixed":
            repairs.append((message("line-ends"), returns + feeds - pairs))
    return data, line_end, repairs


# a minus as print sets it, and signs of units encoded twice (UTF-8 read as cp1252, then as Latin-1)
_TWICE = {
    sign.encode("utf-8").decode(wrong).encode("utf-8"): sign.encode("utf-8")
    for wrong in ("cp1252", "latin-1")
    for sign in ("°", "²", "³", "µ", "·")
}
_MINUS = "\u2212".encode()


def _plain_signs(data: bytes) -> tuple[bytes, list[tuple[Message, int]]]:
    if data.isascii():
        return data, []
    repairs = []
    if minus := data.count(_MINUS):
        data = data.replace(_MINUS, b"-")
        repairs.append((message("minus-sign"), minus))
    twice = 0
    for wrong, right in _TWICE.items():
        twice += data.count(wrong)
        data = data.replace(wrong, right)
    if twice:
        repairs.append((message("encoded-twice"), twice))
    return data, repairs


def _refuse_binary(data: bytes) -> None:
    head = data[:65536]
    odd = len(head.translate(None, bytes(range(32, 256)) + b"\t\n\x0b\x0c"))
    if odd > 0.02 * len(head):
        raise LogFileError(message("not-text"))
