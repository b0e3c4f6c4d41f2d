"""The own folder: whole writes, undo, nothing outside, nothing lost."""

from __future__ import annotations

import fcntl
from pathlib import Path

import pytest

from coachbot.knowledge.problems import Refused
from coachbot.workshop import folder as folder_module
from coachbot.workshop.folder import OwnFolder


def contents(folder: Path) -> dict[str, bytes]:
    return {
        str(f.relative_to(folder)): f.read_bytes()
        for f in sorted(folder.rglob("*"))
        if f.is_file() and ".undo" not in f.parts
    }


def test_changes_are_taken_back_one_by_one_to_the_last_byte(own: OwnFolder) -> None:
    states = [contents(own.path)]
    own.write({"holds/chest-over-feet.yaml": "a: b\r\n", "new/x.yaml": "é"}, "first")
    states.append(contents(own.path))
    own.write({"new/x.yaml": None, "holds/chest-over-feet.yaml": "c"}, "second")
    assert "new/x.yaml" not in contents(own.path)
    undone = own.undo()
    assert undone.label == "second"
    assert contents(own.path) == states[1]
    own.undo()
    assert contents(own.path) == states[0]
    with pytest.raises(Refused, match="nothing to take back"):
        own.undo()


@pytest.mark.parametrize(
    "name",
    [
        "../out.yaml",
        "holds/../../out.yaml",
        "/etc/out.yaml",
        "",
        "a\0b.yaml",
        "a\\b.yaml",
        "a\n.yaml",
    ],
)
def test_a_name_that_leads_out_is_refused(own: OwnFolder, name: str) -> None:
    before = contents(own.path.parent)
    with pytest.raises(Refused):
        own.write({"holds/fine.yaml": "x", name: "x"}, "bad")
    assert contents(own.path.parent) == before


def test_a_folder_that_is_a_link_out_is_refused(own: OwnFolder, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (own.path / "feet").symlink_to(outside)
    with pytest.raises(Refused, match="leads out"):
        own.write({"feet/x.yaml": "x"}, "bad")
    assert not list(outside.iterdir())


def test_an_undo_does_not_take_what_was_written_by_hand(own: OwnFolder) -> None:
    own.write({"holds/x.yaml": "one"}, "made")
    (own.path / "holds" / "x.yaml").write_text("by hand")
    with pytest.raises(Refused, match="by hand"):
        own.undo()
    assert (own.path / "holds" / "x.yaml").read_text() == "by hand"


def test_a_write_that_fails_halfway_leaves_everything_as_it_was(
    own: OwnFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = contents(own.path)
    real = folder_module._put
    full: list[str] = []

    def put(place: Path, data: bytes | None) -> None:
        if place.name == "z.yaml" and data is not None and ".undo" not in place.parts:
            full.append(place.name)
            raise OSError(28, "No space left on device")
        real(place, data)

    monkeypatch.setattr(folder_module, "_put", put)
    with pytest.raises(Refused, match="No space left"):
        own.write({"holds/chest-over-feet.yaml": "x", "holds/z.yaml": "y"}, "bad")
    assert full
    assert contents(own.path) == before
    with pytest.raises(Refused, match="nothing to take back"):
        own.undo()


def test_two_writers_do_not_meet(own: OwnFolder) -> None:
    own.write({"holds/x.yaml": "x"}, "first")
    with (own.path / ".undo" / "lock").open("ab") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        with pytest.raises(Refused, match="another program"):
            own.write({"holds/x.yaml": "y"}, "second")
    assert own.text("holds/x.yaml") == "x"
