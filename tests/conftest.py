"""What holds for every test: nothing of the machine's own user is read or written."""

import shutil
import tempfile
from collections.abc import Iterator

import pytest


@pytest.fixture(scope="session", autouse=True)
def _folders_of_its_own() -> Iterator[None]:
    """Give each process of tests folders for sockets and settings; a socket needs a short path."""
    folder = tempfile.mkdtemp(prefix="bm")
    with pytest.MonkeyPatch.context() as patch:
        for name in ("XDG_RUNTIME_DIR", "XDG_STATE_HOME"):
            patch.setenv(name, folder)
        yield
    shutil.rmtree(folder, ignore_errors=True)
