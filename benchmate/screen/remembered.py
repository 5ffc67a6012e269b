"""What the screen remembers of a person's choices from one start to the next."""

import json
import logging
from pathlib import Path

_log = logging.getLogger(__name__)


class Remembered:
    """Choices by name, kept in one small file; without a file they last as long as the program.

    A file that can't be read or written costs the choice, never the screen: it is logged.
    """

    def __init__(self, file: Path | None) -> None:
        self._file = file
        self._chosen: dict[str, str] | None = None

    def get(self, name: str) -> str | None:
        """Give the choice of that name, None where nothing was chosen."""
        if self._chosen is None:
            self._chosen = self._read()
        return self._chosen.get(name)

    def put(self, name: str, choice: str) -> None:
        """Keep a choice."""
        self._chosen = {**(self._chosen or self._read()), name: choice}
        if self._file is None:
            return
        try:
            self._file.parent.mkdir(parents=True, exist_ok=True)
            partial = self._file.with_suffix(".new")
            partial.write_text(json.dumps(self._chosen), encoding="utf-8")
            partial.replace(self._file)
        except OSError as error:
            _log.info("the choice of %s is not kept: %s", name, error)

    def _read(self) -> dict[str, str]:
        if self._file is None or not self._file.exists():
            return {}
        try:
            read = json.loads(self._file.read_text(encoding="utf-8"))
        except (OSError, ValueError) as error:
            _log.info("%s can't be read: %s", self._file, error)
            return {}
        if not isinstance(read, dict):
            return {}
        return {str(name): str(choice) for name, choice in read.items()}
