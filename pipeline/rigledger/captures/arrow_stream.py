"""Columns of 64-bit integers out of the database as bytes, without numpy, Arrow or Python numbers.

The database gives rows by Arrow's C interfaces, which are plain structures of the C language:
https://arrow.apache.org/docs/format/CDataInterface.html and CStreamInterface.html there.
"""

from __future__ import annotations

import ctypes
from typing import TYPE_CHECKING, ClassVar

if TYPE_CHECKING:
    from collections.abc import Iterator

    import duckdb

_NAME = b"arrow_array_stream"


class _Array(ctypes.Structure):
    """``struct ArrowArray``."""


class _Stream(ctypes.Structure):
    """``struct ArrowArrayStream``."""

    _fields_: ClassVar = [
        ("get_schema", ctypes.c_void_p),
        (
            "get_next",
            ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.POINTER(_Array)),
        ),
        ("get_last_error", ctypes.CFUNCTYPE(ctypes.c_char_p, ctypes.c_void_p)),
        ("release", ctypes.c_void_p),
        ("private_data", ctypes.c_void_p),
    ]


_Array._fields_ = [
    ("length", ctypes.c_int64),
    ("null_count", ctypes.c_int64),
    ("offset", ctypes.c_int64),
    ("n_buffers", ctypes.c_int64),
    ("n_children", ctypes.c_int64),
    ("buffers", ctypes.POINTER(ctypes.c_void_p)),
    ("children", ctypes.POINTER(ctypes.POINTER(_Array))),
    ("dictionary", ctypes.c_void_p),
    ("release", ctypes.CFUNCTYPE(None, ctypes.POINTER(_Array))),
    ("private_data", ctypes.c_void_p),
]

_pointer_of = ctypes.pythonapi.PyCapsule_GetPointer
_pointer_of.restype = ctypes.c_void_p
_pointer_of.argtypes = [ctypes.py_object, ctypes.c_char_p]


def integers(con: duckdb.DuckDBPyConnection, query: str) -> Iterator[tuple[memoryview, ...]]:
    """Run a query of BIGINT columns without nulls, and give its rows portion by portion.

    The connection must run nothing else meanwhile.

    Args:
        con: The connection.
        query: The query; the order of its rows is kept.

    Yields:
        A view a column, of native 64-bit integers; it is good until the next portion is asked for.

    Raises:
        duckdb.Error: The query fails.
        OSError: It fails while its rows are read.
    """
    con.complete()  # of an earlier result some rows may wait that nobody asked for
    capsule = con.sql(query).__arrow_c_stream__()
    place = _pointer_of(capsule, _NAME)
    stream = _Stream.from_address(place or 0)
    while True:
        array = _Array()
        failed = stream.get_next(place, ctypes.byref(array))
        if failed:
            raise OSError(failed, (stream.get_last_error(place) or b"").decode("utf-8", "replace"))
        if not array.release:
            return  # the capsule still holds the stream, and releases it
        try:
            if array.length:
                yield tuple(_column(array, number) for number in range(array.n_children))
        finally:
            array.release(ctypes.byref(array))


def _column(array: _Array, number: int) -> memoryview:
    column = array.children[number].contents
    start = column.buffers[1] + 8 * (array.offset + column.offset)
    values = (ctypes.c_int64 * array.length).from_address(start)
    return memoryview(values).cast("B").cast("q")
