"""A file appears whole or not at all, and what was there before is never lost."""

import os
import stat

import pytest

from siting.errors import OutputError
from siting.outputs.files import refuse_to_replace, write_all

OLD = {"results.json": b"old results", "compliance.csv": b"old table"}
NEW = {"results.json": b"new results" * 1000, "compliance.csv": b"new table"}


def held(folder):
    """Every file of a folder, hidden ones too, with its bytes."""
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


@pytest.fixture
def filled(tmp_path):
    """A folder with the files of an earlier run."""
    for name, data in OLD.items():
        (tmp_path / name).write_bytes(data)
    return tmp_path


def three_parts(error):
    """The one fault of an error, complete."""
    (fault,) = error.value.faults
    assert fault.found
    assert fault.needed
    assert fault.do_next
    return fault


def test_files_are_written_with_their_folder(tmp_path):
    """Folders that are missing are made; paths come back in the order given; anybody may read the files."""
    folder = tmp_path / "maps" / "Marula Ridge"

    paths = write_all(folder, NEW, overwrite=False)

    assert [folder / name for name in NEW] == list(paths)
    assert NEW == held(folder)
    assert {0o644} == {stat.S_IMODE(path.stat().st_mode) for path in paths}


def test_nothing_is_replaced_without_leave(filled):
    """Files in the way are named, the way out too, and every byte stays."""
    with pytest.raises(OutputError) as error:
        write_all(filled, {"map.html": b"m", **NEW}, overwrite=False)

    fault = three_parts(error)
    assert "results.json, compliance.csv" in fault.found
    assert "--overwrite" in fault.do_next
    assert OLD == held(filled)


def test_with_leave_only_the_named_files_are_replaced(filled):
    """What else lies in the folder is left alone."""
    (filled / "notes.txt").write_bytes(b"mine")

    write_all(filled, NEW, overwrite=True)

    assert {**NEW, "notes.txt": b"mine"} == held(filled)


@pytest.mark.parametrize("failing", ["write", "fsync", "chmod"])
def test_a_disk_that_fills_up_leaves_the_old_files(failing, filled, monkeypatch):
    """A failure while the second file is written: nothing was put in place yet, and no temporary stays."""
    real, calls = {"fsync": os.fsync, "chmod": os.chmod, "write": os.fdopen}[failing], []

    def full(*arguments, **options):
        calls.append(arguments)
        if len(calls) == 2:
            raise OSError(28, "No space left on device")
        return real(*arguments, **options)

    monkeypatch.setattr(os, {"write": "fdopen"}.get(failing, failing), full)

    with pytest.raises(OutputError) as error:
        write_all(filled, NEW, overwrite=True)

    assert "No space left on device" in three_parts(error).found
    assert OLD == held(filled)


@pytest.mark.parametrize("nth", [1, 2])
def test_a_name_that_cannot_be_put_in_place_leaves_every_file_whole(nth, filled, monkeypatch):
    """Each file is the old one or the new one, never part of either, and no temporary stays."""
    real, calls = os.replace, []

    def refused(source, target):
        calls.append(target)
        if len(calls) == nth:
            raise OSError(1, "Operation not permitted")
        real(source, target)

    monkeypatch.setattr(os, "replace", refused)

    with pytest.raises(OutputError):
        write_all(filled, NEW, overwrite=True)

    after = held(filled)
    assert set(OLD) == set(after)
    assert all(after[name] in (OLD[name], NEW[name]) for name in OLD)
    assert OLD["compliance.csv"] == after["compliance.csv"]


def test_an_interrupt_leaves_no_temporary(filled, monkeypatch):
    """Ctrl-C in the middle of a file is passed on, and what was begun is taken away."""

    def interrupted(_):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupted)

    with pytest.raises(KeyboardInterrupt):
        write_all(filled, NEW, overwrite=True)

    assert OLD == held(filled)


@pytest.mark.parametrize(
    "place", ["taken", "taken/below", "x" * 300], ids=["a file in the way", "below a file", "too long a name"]
)
def test_a_folder_that_cannot_be_is_told_in_three_parts(place, tmp_path):
    """A file where the folder should be, or a name no disk takes, is an OutputError and touches nothing."""
    (tmp_path / "taken").write_bytes(b"mine")

    with pytest.raises(OutputError) as error:
        write_all(tmp_path / place, NEW, overwrite=False)

    assert "--out" in three_parts(error).do_next
    assert {"taken": b"mine"} == held(tmp_path)


@pytest.mark.skipif(os.geteuid() == 0, reason="the administrator may write anywhere")
def test_a_folder_nobody_may_write_is_told_in_three_parts(tmp_path):
    """Permissions are an OutputError too."""
    tmp_path.chmod(0o500)

    with pytest.raises(OutputError) as error:
        write_all(tmp_path, NEW, overwrite=False)

    tmp_path.chmod(0o700)
    assert "cannot be written" in three_parts(error).found


def test_refusing_early_asks_for_the_names_given(filled):
    """Only the names that will be written stand in the way."""
    refuse_to_replace(filled, ("map.html",), overwrite=False)
    refuse_to_replace(filled, ("results.json",), overwrite=True)
    with pytest.raises(OutputError):
        refuse_to_replace(filled, ("results.json",), overwrite=False)
