# ruff: noqa: ANN401 - what stands in for a function of the system takes whatever that takes
"""The points at which a process writes: counts them, and lets it die or fail at any one of them.

In a process of its own, put in place of what opens, writes, syncs, renames, makes and removes in
one folder. A write that dies or fails has written half of its bytes. The database writes its files
itself: a file that it copies rows to is one point, at which half of the file is there.
"""

from __future__ import annotations

import builtins
import errno
import io
import os
import re
import signal
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Self

KILL, FULL, BROKEN = "killed", "disk full", "disk error"
FAULTS = (KILL, FULL, BROKEN)
_NUMBERS = {FULL: errno.ENOSPC, BROKEN: errno.EIO}
_COPY = re.compile(r"\bto '((?:[^']|'')+)'\s*\(", re.IGNORECASE)
# A capture is named by what it holds and says nothing of another one beside it.
_NAMED_BY_CONTENT = re.compile(r"[0-9a-f]{64}\.parquet")
# What changes a folder's entries, and which argument is the entry.
_ENTRIES = {
    "replace": 1, "rename": 1, "mkdir": 0, "rmdir": 0, "unlink": 0, "remove": 0, "symlink": 1,
    "link": 1,
}  # fmt: skip


@dataclass
class Points:
    """The points of one run, in order.

    Attributes:
        root: Folder in which they count.
        at: The point at which something happens, from 0; None only counts.
        fault: What happens there.
        kinds: The kinds of the points passed so far.
        unordered: Renames whose content or folder was not on the disk when it had to be.
    """

    root: Path
    at: int | None = None
    fault: str = KILL
    kinds: list[str] = field(default_factory=list)
    unordered: list[str] = field(default_factory=list)
    _paths: dict[int, Path] = field(default_factory=dict)
    _synced: set[tuple[int, int]] = field(default_factory=set)
    _to_sync: set[Path] = field(default_factory=set)

    def install(self) -> None:
        """Put the counting functions in the place of the system's, for the rest of the process."""
        self.root = self.root.resolve()
        for name, place in _ENTRIES.items():
            setattr(os, name, self._entry(name, getattr(os, name), place))
        opened = self._open(io.open)
        builtins.open = io.open = opened  # type: ignore[assignment]
        os.open = self._os_open(os.open)  # type: ignore[assignment]
        os.fsync = self._fsync(os.fsync)  # type: ignore[assignment]
        if hasattr(os, "sendfile"):
            os.sendfile = self._sendfile(os.sendfile)
        connect = duckdb.connect
        duckdb.connect = lambda *words, **more: Counted(connect(*words, **more), self)

    def end(self) -> None:
        """Say which renames were never followed by a sync of their folder."""
        self.unordered += [f"{path.name} is not synced in the end" for path in self._to_sync]

    def point(self, kind: str, half: Callable[[], object] | None = None) -> None:
        """Pass a point; at the chosen one do half of it and die or fail."""
        here = len(self.kinds) == self.at
        self.kinds.append(kind)
        if not here:
            return
        if half is not None:
            half()
        if self.fault == KILL:
            os.kill(os.getpid(), signal.SIGKILL)
        number = _NUMBERS[self.fault]
        if kind == "copy":
            raise duckdb.IOException(f"IO Error: Could not write file: {os.strerror(number)}")
        raise OSError(number, os.strerror(number), str(self.root))

    def inside(self, path: object) -> Path | None:
        """Give a path as it is counted; None for one that isn't."""
        if not isinstance(path, str | os.PathLike):
            return None
        found = Path.cwd() / os.fsdecode(path)
        return found if found.is_relative_to(self.root) else None

    def written(self, path: Path) -> None:
        """Remember that a file's bytes are not on the disk any more."""
        self._synced.discard(_identity(path))

    def _open(self, real: Any) -> Any:
        def opened(
            file: Any, mode: str = "r", buffering: int = -1, *words: Any, **more: Any
        ) -> Any:
            path = self.inside(file)
            if path is None or not set(mode) & set("wax+"):
                return real(file, mode, buffering, *words, **more)
            self.point("open")
            if "+" in mode:
                stream = real(file, mode, buffering, *words, **more)
                self._paths[stream.fileno()] = path
                return stream
            raw = Raw(path, mode.replace("b", "").replace("t", ""), self)
            self._paths[raw.fileno()] = path
            buffered = io.BufferedWriter(raw)
            return buffered if "b" in mode else io.TextIOWrapper(buffered, *words, **more)

        return opened

    def _os_open(self, real: Any) -> Any:
        def opened(path: Any, flags: int, *words: Any, **more: Any) -> int:
            held = self.inside(path)
            if held and flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):
                self.point("open")
            number: int = real(path, flags, *words, **more)
            if held:
                self._paths[number] = held
            return number

        return opened

    def _fsync(self, real: Any) -> Any:
        def synced(number: int) -> None:
            path = self._paths.get(number)
            if path is None:
                return
            self.point("fsync")
            real(number)
            self._synced.add(_identity(path))
            self._to_sync.discard(path)

        return synced

    def _sendfile(self, real: Any) -> Any:
        def sent(out: int, source: int, offset: int, count: int) -> int:
            path, left = self._paths.get(out), os.fstat(source).st_size - offset
            if path and left > 0:
                self.point("write", lambda: real(out, source, offset, left // 2))
                self.written(path)
            number: int = real(out, source, offset, count)
            return number

        return sent

    def _entry(self, name: str, real: Any, place: int) -> Any:
        def changed(*words: Any, **more: Any) -> None:
            path = self._named(words[place], more.get("dir_fd"))
            if path is not None and _changes(name, path):
                self.point({"replace": "rename", "remove": "unlink"}.get(name, name))
                if name in {"replace", "rename"}:
                    self._check_order(Path(words[0]), path)
            real(*words, **more)

        return changed

    def _named(self, path: Any, folder: int | None) -> Path | None:
        if folder is not None and folder >= 0:
            held = self._paths.get(folder)
            return held / os.fspath(path) if held else None
        return self.inside(path)

    def _check_order(self, source: Path, target: Path) -> None:
        """Hold a rename against the rule: content on the disk before, folder before the next."""
        if self.inside(source) is None:
            return
        parts = [source, *source.rglob("*")] if source.is_dir() else [source]
        late = [part for part in parts if not part.is_symlink() and not self._is_synced(part)]
        self.unordered += [f"{target.name}: {part.name} is not synced before" for part in late]
        own = {target.parent} if _NAMED_BY_CONTENT.fullmatch(target.name) else set()
        waiting = self._to_sync - own
        self.unordered += [f"{target.name}: {part.name} has a rename" for part in waiting]
        self._to_sync.add(target.parent)

    def _is_synced(self, path: Path) -> bool:
        return _identity(path) in self._synced


class Raw(io.FileIO):
    """A file whose writes are points."""

    def __init__(self, path: Path, mode: str, points: Points) -> None:
        super().__init__(path, mode)
        self._path, self._points = path, points

    def write(self, data: Any) -> int:
        """Write bytes, or half of them at the chosen point."""
        whole = bytes(data)
        put = super().write
        self._points.point("write", lambda: put(whole[: len(whole) // 2]))
        self._points.written(self._path)
        return int(put(whole) or 0)


class Counted:
    """A connection to the database whose copying of rows to a file is a point."""

    def __init__(self, con: Any, points: Points) -> None:
        self._con, self._points = con, points

    def __getattr__(self, name: str) -> Any:
        return getattr(self._con, name)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._con.close()

    def execute(self, query: str, *words: Any) -> Any:
        """Run a statement; where it copies rows to a file, that is a point."""
        if query == "copy from database memory to kept":
            self._points.point("copy", lambda: self._con.execute(query, *words))
        named = _COPY.search(query) if query.lstrip()[:4].lower() == "copy" else None
        path = self._points.inside(named[1].replace("''", "'")) if named else None
        if path is None:
            return self._con.execute(query, *words)
        self._points.point("copy", lambda: self._half(query, path))
        made = self._con.execute(query, *words)
        self._points.written(path)
        return made

    def _half(self, query: str, path: Path) -> None:
        self._con.execute(query)
        os.truncate(path, path.stat().st_size // 2)


def _changes(name: str, path: Path) -> bool:
    """Whether there is anything to make or remove: what is there already is no point."""
    if name == "mkdir":
        return not path.exists()
    return name not in {"unlink", "remove"} or os.path.lexists(path)


def _identity(path: Path) -> tuple[int, int]:
    held = path.stat()
    return held.st_dev, held.st_ino
