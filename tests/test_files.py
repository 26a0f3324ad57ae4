"""Files and folders appear whole under their names, or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from rigledger.files import (
    beside,
    files_below,
    folder_beside,
    keep_all,
    link_or_copy,
    make_folder,
    point_to,
    pointed,
    sweep,
    write_text,
)


@pytest.fixture
def synced(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[str]:
    """Paths below ``tmp_path`` in the order in which they were put on the disk."""
    found: list[str] = []

    def sync_file(path: Path) -> None:
        name = path.relative_to(tmp_path).as_posix()
        found.append(name.partition(".part")[2].lstrip("/") if ".part" in name else name)

    monkeypatch.setattr("rigledger.files.sync_file", sync_file)
    monkeypatch.setattr("rigledger.files.sync_folder", sync_file)
    monkeypatch.setattr("rigledger.files.SYNCED_AT_ONCE", 1)
    return found


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def _fail(path: Path) -> None:
    """Write half a file on a disk that then is full."""
    with beside(path) as temporary:
        temporary.write_text("half a li", encoding="utf-8")
        raise OSError("full")


def test_a_failed_write_leaves_the_earlier_file_and_nothing_beside(tmp_path: Path) -> None:
    path = tmp_path / "runs.csv"
    write_text(path, "earlier")
    with pytest.raises(OSError, match="full"):
        _fail(path)
    assert path.read_text(encoding="utf-8") == "earlier"
    assert _names(tmp_path) == ["runs.csv"]


def test_the_first_error_is_told_also_where_nothing_can_be_removed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object, **__: object) -> None:
        raise OSError("no removing")

    monkeypatch.setattr("pathlib.Path.unlink", refused)
    with pytest.raises(OSError, match="full"):
        _fail(tmp_path / "runs.csv")


def test_a_folder_is_put_on_the_disk_with_all_below_it_and_then_its_name(
    tmp_path: Path, synced: list[str]
) -> None:
    with folder_beside(tmp_path / "new" / "set") as folder:
        (folder / "captures").mkdir()
        (folder / "captures" / "a.csv").write_text("1", encoding="utf-8")
        (folder / "runs.csv").write_text("1", encoding="utf-8")
    assert synced == [".", "captures", "captures/a.csv", "runs.csv", "", "new"]


def test_a_folder_that_is_made_is_put_on_the_disk_with_each_above_it(
    tmp_path: Path, synced: list[str]
) -> None:
    make_folder(tmp_path / "a" / "b")
    make_folder(tmp_path / "a" / "b")
    assert synced == [".", "a"]


def test_files_are_copied_and_on_the_disk_before_any_has_its_name_and_the_folder_once_after_all(
    tmp_path: Path, synced: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    sources = {}
    for name in ("b", "a"):
        sources[f"{name}.parquet"] = tmp_path / f"made-{name}"
        sources[f"{name}.parquet"].write_text(name, encoding="utf-8")
    replaced = Path.replace

    def replace(source: Path, target: Path) -> Path:
        synced.append(f"-> {target.name}")
        return replaced(source, target)

    monkeypatch.setattr(Path, "replace", replace)
    keep_all(sources, tmp_path / "captures")
    assert synced == [".", "", "", "-> a.parquet", "-> b.parquet", "captures"]
    assert _names(tmp_path / "captures") == ["a.parquet", "b.parquet"]
    keep_all({}, tmp_path / "nothing")
    assert not (tmp_path / "nothing").exists()


def test_a_file_gets_a_second_name_or_is_copied_where_it_can_have_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = tmp_path / "made"
    made.write_text("a", encoding="utf-8")
    link_or_copy(made, tmp_path / "linked")

    def refuse(*_: object) -> None:
        raise OSError("another file system")

    monkeypatch.setattr(os, "link", refuse)
    link_or_copy(made, tmp_path / "copied")
    both = [tmp_path / name for name in ("linked", "copied")]
    assert [path.samefile(made) for path in both] == [True, False]
    assert [path.read_text(encoding="utf-8") for path in both] == ["a", "a"]


def test_of_files_that_can_t_all_be_copied_none_is_left(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("a", encoding="utf-8")
    with pytest.raises(FileNotFoundError):
        keep_all({"a": tmp_path / "a", "b": tmp_path / "gone"}, tmp_path / "captures")
    assert _names(tmp_path / "captures") == []


def test_a_folder_that_is_there_stays_if_it_is_the_same(tmp_path: Path) -> None:
    target = tmp_path / "release"
    target.mkdir()
    write_text(target / "a.csv", "1")
    with folder_beside(target, or_same=True) as folder:
        write_text(folder / "a.csv", "1")
    with pytest.raises(FileExistsError), folder_beside(target, or_same=True) as folder:
        write_text(folder / "a.csv", "2")
    with pytest.raises(FileExistsError), folder_beside(target):
        raise AssertionError("it was begun")
    assert (target / "a.csv").read_text(encoding="utf-8") == "1"
    assert _names(tmp_path) == ["release"]


def test_a_pointer_names_one_thing_or_the_other(tmp_path: Path) -> None:
    pointer = tmp_path / "current"
    assert pointed(pointer) is None
    for name in ("tables-1", "tables-2"):
        (tmp_path / name).mkdir()
        point_to(pointer, name)
        assert pointed(pointer) == tmp_path / name
    (tmp_path / "tables-2").rmdir()
    assert pointed(pointer) is None
    assert _names(tmp_path) == ["current", "tables-1"]


@pytest.mark.skipif(os.name == "nt", reason="a text file does for a link there")
def test_a_pointer_that_is_a_text_file_is_read_and_replaced_by_a_link(tmp_path: Path) -> None:
    pointer = tmp_path / "current"
    (tmp_path / "tables-1").mkdir()
    pointer.write_text("tables-1\n", encoding="utf-8")
    assert pointed(pointer) == tmp_path / "tables-1"
    point_to(pointer, "tables-1")
    assert pointer.is_dir()


def test_only_what_was_being_written_is_swept(tmp_path: Path) -> None:
    token = "0123456789abcdef" * 2
    left = [f".{token}.part", f".a.csv.{token}.part", f".a.db.{token}.part.wal"]
    kept = [f".b.csv.{token}.part", f"a.csv.{token}.part", ".a.csv.part", f".a.csv.{token}"]
    for name in (*left, *kept):
        (tmp_path / name).mkdir()
    sweep(tmp_path, "a.csv")
    assert set(_names(tmp_path)) == {*left, *kept} - {left[1]}
    sweep(tmp_path)
    assert set(_names(tmp_path)) == set(kept) - {kept[0]}
    sweep(tmp_path / "missing")


def test_files_are_listed_by_path_and_links_to_folders_are_not_followed(tmp_path: Path) -> None:
    for name in ("b/two.csv", "b/c/three.csv", "a.csv", "b.csv"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text("x", encoding="utf-8")
    (tmp_path / "empty").mkdir()
    names = ["a.csv", "b.csv", "b/c/three.csv", "b/two.csv"]
    assert files_below(tmp_path) == names
    try:
        (tmp_path / "z-file").symlink_to(tmp_path / "a.csv")
        (tmp_path / "z-folder").symlink_to(tmp_path / "b")
        (tmp_path / "z-nothing").symlink_to(tmp_path / "gone")
        (tmp_path / "z-itself").symlink_to(tmp_path / "z-itself")
    except OSError:
        pytest.skip("this system makes no links for everybody")
    assert files_below(tmp_path) == [*names, "z-file"]
    assert files_below(tmp_path / "gone") == []
