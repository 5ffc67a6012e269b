"""A file that is written is there whole or not at all."""

import os
import stat
import threading

import pytest

from benchmate.errors import Failure
from benchmate.files import write_whole


def test_a_file_is_there_whole_or_not_at_all(tmp_path):
    target = tmp_path / "bends.csv"
    target.write_text("before")

    def breaking():
        yield "half"
        raise Failure("the store failed")

    with pytest.raises(Failure):
        write_whole(target, breaking())
    assert target.read_text() == "before"
    write_whole(target, ["after\n"])
    assert target.read_text() == "after\n"
    assert [each.name for each in tmp_path.iterdir()] == ["bends.csv"]


def test_a_file_that_cannot_be_written_is_said(tmp_path):
    with pytest.raises(Failure, match="can't be written"):
        write_whole(tmp_path / "none" / "bends.csv", ["x"])


def test_a_pipe_is_written_to_and_stays_a_pipe(tmp_path):
    pipe = tmp_path / "bends"
    os.mkfifo(pipe)
    read = []
    reader = threading.Thread(target=lambda: read.append(pipe.read_text()))
    reader.start()
    write_whole(pipe, ["one\n", "two\n"])
    reader.join()
    assert read == ["one\ntwo\n"]
    assert stat.S_ISFIFO(pipe.stat().st_mode)


def test_a_link_keeps_pointing_at_the_file_that_is_written(tmp_path):
    (tmp_path / "real.csv").write_text("before")
    link = tmp_path / "link.csv"
    link.symlink_to("real.csv")
    write_whole(link, ["after"])
    assert link.is_symlink()
    assert (tmp_path / "real.csv").read_text() == "after"
