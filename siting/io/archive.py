"""Zip archives from strangers: sizes checked against the directory, then counted while unpacking."""

import io
import zipfile
import zlib

from siting.errors import Fault, InputError
from siting.io.records import Document

_CHUNK = 1 << 20


def opened(document: Document) -> zipfile.ZipFile:
    """The archive, once its directory keeps within the limits; raises InputError."""
    limits = document.limits
    try:
        archive = zipfile.ZipFile(io.BytesIO(document.data))
    except (zipfile.BadZipFile, ValueError, NotImplementedError):
        raise InputError(_broken(document)) from None
    members = archive.infolist()
    if len(members) > limits.members:
        raise InputError(_too_much(document, f"{len(members)} files inside", f"{limits.members} files", "members"))
    total = sum(member.file_size for member in members)
    if total > limits.unpacked_bytes:
        raise InputError(
            _too_much(document, f"{total} bytes once unpacked", f"{limits.unpacked_bytes} bytes", "unpacked_bytes")
        )
    for member in members:
        # small members may be all zeros without harm
        if member.file_size > _CHUNK and member.file_size > limits.unpack_ratio * max(member.compress_size, 1):
            raise InputError(
                _too_much(
                    document,
                    f"{member.filename[:60]!r} grows {member.file_size / max(member.compress_size, 1):.0f} times",
                    f"{limits.unpack_ratio:g} times",
                    "unpack_ratio",
                )
            )
    return archive


def unpacked(document: Document, archive: zipfile.ZipFile, name: str) -> bytes:
    """One member, counted while it is read: the directory may lie about its size."""
    parts: list[bytes] = []
    left = document.limits.unpacked_bytes
    try:
        with archive.open(name) as stream:
            while chunk := stream.read(min(_CHUNK, left + 1)):
                left -= len(chunk)
                if left < 0:
                    most = document.limits.unpacked_bytes
                    found = f"more than {most} bytes once unpacked"
                    raise InputError(_too_much(document, found, f"{most} bytes", "unpacked_bytes"))
                parts.append(chunk)
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, ValueError, OSError):
        raise InputError(_broken(document)) from None
    return b"".join(parts)


def _too_much(document: Document, found: str, most: str, option: str) -> Fault:
    return document.fault(
        found,
        needed=f"at most {most}",
        do_next=f"check where the file comes from; if it is right, raise Limits.{option}",
    )


def _broken(document: Document) -> Fault:
    return document.fault(
        "the zip archive inside is damaged or locked",
        needed="a whole archive without a password",
        do_next="copy or export the file again",
    )
