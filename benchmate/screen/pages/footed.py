"""Ground of the screens: the footer has the keys that do something now, as far as they fit."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from textual.screen import Screen, ScreenResultType
from textual.widgets import Footer

ALWAYS: Mapping[str, str] = {"help": "help", "leave": "quit"}
"""The help names every other key, and a way out is never hidden."""


class FootedScreen(Screen[ScreenResultType]):
    """A screen that says by ``key_words`` which of its bindings the footer shows, and how.

    The first is what Enter does. A key that doesn't fit is left out whole, and those after it; the
    last two always stay, unless the screen gives no words for them. After a change of what is said
    ``refresh_bindings`` draws it.
    """

    DEFAULT_CSS = """
    FootedScreen { layout: vertical; overflow: hidden; }
    FootedScreen Footer { background: $background; }
    FootedScreen FooterKey { background: $background; margin: 0 1 0 0; }
    FootedScreen FooterKey .footer-key--key { color: $foreground; background: $background;
        text-style: bold; padding: 0 1; }
    FootedScreen FooterKey .footer-key--description { background: $background; padding: 0; }
    FootedScreen.-due FooterKey:first-child .footer-key--key,
    FootedScreen.-due FooterKey:first-child .footer-key--description {
        color: $primary; text-style: bold; }
    """

    def key_words(self) -> Mapping[str, str]:
        """Give the actions to be shown in order, each with the words for its key."""
        return {}

    def footer(self) -> Footer:
        """Give the footer to be composed."""
        return Footer(show_command_palette=False)

    @property
    def active_bindings(self) -> dict[str, Any]:
        """Give the bindings as they are shown now; which keys work is not changed by it."""
        found = super().active_bindings
        first: dict[str, tuple[str, Any]] = {}
        for key, active in found.items():
            action = active.binding.action.removeprefix("app.")
            if action not in first or first[action][0].startswith("ctrl+"):
                first[action] = (key, active)
        words = dict(self.key_words())
        last = {action: word for action, word in ALWAYS.items() if action not in words}
        room = self.app.size.width
        shown = {action: word for action, word in {**words, **last}.items() if word}
        fitting = self._fitting(shown, last, first, room)
        result = {
            first[action][0]: first[action][1]._replace(
                binding=replace(first[action][1].binding, description=word, show=True)
            )
            for action, word in fitting.items()
        }
        for key, active in found.items():
            hidden = active._replace(binding=replace(active.binding, show=False))
            result.setdefault(key, hidden)
        return result

    def _fitting(
        self,
        shown: Mapping[str, str],
        last: Mapping[str, str],
        first: Mapping[str, tuple[str, Any]],
        room: int,
    ) -> dict[str, str]:
        def cells(action: str, word: str) -> int:
            display = self.app.get_key_display(first[action][1].binding)
            return len(display) + len(word) + 3

        ends = {action: word for action, word in last.items() if action in first}
        used = sum(cells(action, word) for action, word in ends.items())
        fitting: dict[str, str] = {}
        for action, word in shown.items():
            if action in ends or action not in first:
                continue
            used += cells(action, word)
            if used > room and fitting:
                break
            fitting[action] = word
        return {**fitting, **ends}
