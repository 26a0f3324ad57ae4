"""What the standard library raises when an archive is not what it says it is."""

from __future__ import annotations

import struct
import tarfile
import zipfile
import zlib

BROKEN: tuple[type[Exception], ...] = (
    zipfile.BadZipFile,
    tarfile.TarError,
    zlib.error,
    struct.error,
    OSError,
    EOFError,
    UnicodeError,  # a name that is said to be UTF-8 and isn't
    NotImplementedError,  # a method of packing that it doesn't know
    RuntimeError,  # a password is asked for
)
"""All of it; none of these is raised by our own judging of entries."""
