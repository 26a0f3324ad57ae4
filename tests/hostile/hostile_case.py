"""One hostile set: the clean one with bytes replaced, or an archive in its place."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

Change = "Callable[[bytes], bytes]"


@dataclass
class Case:
    """A case; ``rule`` is the finding that must come, None where the set is fine after all."""

    name: str
    rule: str | None
    files: dict[str, bytes | None] = field(default_factory=dict)
    change: tuple[str, Callable[[bytes], bytes]] | None = None
    manifest: str = ""
    maker: Callable[[Any], Any] | None = None
    archive: Callable[[Path, dict[str, bytes]], None] | None = None
    book: Callable[[Path, Any], None] | None = None
    after: Callable[[Path], None] | None = None

    def build(self, folder: Path, clean: Any) -> Path:  # noqa: ANN401 - the clean set's module
        made = clean.SetMaker(folder)
        made.manifest += self.manifest
        if self.maker:
            self.maker(made)
        if self.book:
            path = folder.with_suffix(".xlsx")
            self.book(path, made)
            return path
        made.write()
        self._replace(folder)
        if self.archive:
            held = {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*.*")}
            path = folder.with_suffix(".zip")
            self.archive(path, held)
            return path
        if self.after:
            self.after(folder)
        return folder

    def _replace(self, folder: Path) -> None:
        for name, data in self.files.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            if data is None:
                path.unlink()
            else:
                path.write_bytes(data)
        if self.change:
            path = folder / self.change[0]
            path.write_bytes(self.change[1](path.read_bytes()))
