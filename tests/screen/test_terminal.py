import io

import pytest

from benchmate.screen.terminal import on_a_terminal


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.mark.parametrize("kind", ["xterm-256color", "linux", "screen", "vt100"])
def test_a_terminal_is_drawn_on(kind, capsys):
    assert on_a_terminal(Terminal(), Terminal(), {"TERM": kind})
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("environment", [{"TERM": "dumb"}, {}])
def test_one_that_knows_no_screens_gets_text_and_is_told_so(environment, capsys):
    assert not on_a_terminal(Terminal(), Terminal(), environment)
    assert "can't draw a screen; it goes on as text" in capsys.readouterr().err


def test_a_pipe_is_no_terminal(capsys):
    assert not on_a_terminal(io.StringIO(), Terminal(), {"TERM": "xterm"})
    assert not on_a_terminal(Terminal(), io.StringIO(), {"TERM": "xterm"})
    assert capsys.readouterr().err == ""
