"""The job screen: pick a job, see its plan, start it."""

from collections.abc import Callable, Mapping, Sequence
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.widgets import Label, ListItem, ListView

from benchmate.errors import BenchmateError
from benchmate.screen.instrument.widgets import Lines
from benchmate.screen.pages.footed import FootedScreen
from benchmate.screen.pages.plan_lines import Laid, plan_lines
from benchmate.screen.words.ink import Line
from benchmate.units import LengthUnit
from benchmate.wording import printable

LEAST_DRAWING = 5
"""Rows under the list from which the part is drawn there."""


LIST_FIRST_S = 0.05
LIST_FROM = 72
"""Columns from which the list stands beside the plan; below, the top line names the job picked."""


class JobPage(FootedScreen[None]):
    """A list of jobs, the part of the one picked under it, and its plan beside both."""

    DEFAULT_CSS = """
    JobPage Lines { width: 1fr; height: 1; }
    JobPage #columns { height: 1fr; overflow: hidden; }
    JobPage #left { width: 26; height: 1fr; overflow: hidden; }
    JobPage #part { height: 1fr; }
    JobPage #plan { height: 1fr; }
    JobPage ListView { background: $background; scrollbar-size: 0 0; }
    JobPage ListItem { background: $background; }
    JobPage ListView > ListItem.-highlight { background: $background; color: $foreground;
        text-style: bold reverse; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down,j", "pick(1)", "next job"),
        Binding("up,k", "pick(-1)", "job before"),
        Binding("enter,space", "begin", "start it"),
        Binding("right,pagedown", "scroll_plan(1)", "more of the plan"),
        Binding("left,pageup", "scroll_plan(-1)", "back in the plan"),
        Binding("v", "part", "the part drawn"),
    ]

    def __init__(
        self,
        jobs: Sequence[str],
        plan_of: Callable[[str], Laid | None],
        begin: Callable[[str], None],
        unit_of: Callable[[str], LengthUnit],
        *,
        rehearsal: bool,
    ) -> None:
        super().__init__()
        self._jobs = list(jobs)
        self._plan_of = plan_of
        self._begin = begin
        self._unit_of = unit_of
        self._rehearsal = rehearsal
        self._mark: Line = ((" SIMULATED ", "mark"),) if rehearsal else ()
        self._at = 0
        self._from = 0
        self._plan_due = False
        self._width, self._rows, self._list_width = 80, 22, 26
        self._list = ListView(
            *(ListItem(Label(printable(job), markup=False)) for job in self._jobs), id="jobs"
        )
        self._list.can_focus = False
        self._more = False
        self._part = Lines("part")
        self._plan = Lines("plan")
        self._left = Vertical(self._list, self._part, id="left")
        self._header = Lines("header")
        self._plans: dict[str, Laid | str] = {}
        """Plans asked for since this screen was last gone to."""

    def compose(self) -> ComposeResult:
        """Put the list and the plan beside it between the two edges."""
        yield self._header
        yield Horizontal(self._left, self._plan, id="columns")
        yield self.footer()

    def on_mount(self) -> None:
        """Draw it, so that the first frame is a whole one."""
        self.set_class(bool(self._jobs), "-due")
        self._share(self.app.size.width, self.app.size.height)

    def on_screen_resume(self) -> None:
        """Draw it anew: a job bent in between may have changed the plans."""
        self._plans.clear()
        self._draw()

    def on_resize(self, event: events.Resize) -> None:
        """Share the terminal out anew."""
        self._share(event.size.width, event.size.height)

    def action_pick(self, rows: int) -> None:
        """Move to another job."""
        if self._jobs:
            self._at = (self._at + rows) % len(self._jobs)
            self._from = 0
            self._list.index = self._at
            self._draw()

    def action_scroll_plan(self, pages: int) -> None:
        """Move the plan under its window."""
        self._from = max(0, self._from + pages * max(self._rows - 2, 1))
        self._draw()

    def action_part(self) -> None:
        """Show the part of the job picked over the whole terminal."""
        laid = self._laid()
        if isinstance(laid, Laid):
            from benchmate.screen.instrument.part_drawing import Part
            from benchmate.screen.pages.part_page import PartPage

            part = Part(laid.plan, unit=self._unit_of(laid.plan.job))
            self.app.push_screen(PartPage(lambda: part, rehearsal=self._rehearsal))

    def action_begin(self) -> None:
        """Start the job picked."""
        if self._jobs:
            self._begin(self._jobs[self._at])

    def _share(self, width: int, height: int) -> None:
        self._list_width = 34 if width >= 96 else 26 if width >= LIST_FROM else 0
        self._left.styles.width = self._list_width
        self._left.display = self._list_width > 0
        self._width, self._rows = width, max(height - 2, 1)
        self._draw()

    def _draw(self) -> None:
        self._header.put([self._heading()])
        listed = self._listed()
        self._list.styles.height = listed
        if not self._jobs or self._jobs[self._at] in self._plans:
            self._draw_plan()
        elif not self._plan_due:
            # A plan needs sums and the log: the list is on its way to the terminal before them.
            self._plan_due = True
            self.set_timer(LIST_FIRST_S, self._draw_plan)

    def _heading(self) -> Line:
        picked = ""
        if not self._list_width and self._jobs:
            name = printable(self._jobs[self._at])
            picked = f"{self._at + 1} of {len(self._jobs)}: {name}  "
        room = self._width - sum(len(text) for text, _ in self._mark)
        return ((f" Jobs  {picked}"[: max(room, 0)], "bold"), *self._mark)

    def key_words(self) -> Mapping[str, str]:
        """Give what Enter does, and the arrows."""
        words = {"begin": "start it"} if self._jobs else {}
        more = {"scroll_plan(1)": "more"} if self._more else {}
        return {**words, **more, "pick(1)": "next job", "part": "part"}

    def _listed(self) -> int:
        """Give how many rows the list has: all its jobs, or half where there are many."""
        if self._rows // 2 < LEAST_DRAWING:
            return self._rows
        return min(len(self._jobs), self._rows // 2)

    def _draw_plan(self) -> None:
        self._plan_due = False
        lines = self._plan_lines(max(self._width - self._list_width, 20))
        self._from = min(self._from, max(len(lines) - self._rows, 0))
        self._plan.put(lines[self._from :])
        if (more := len(lines) > self._rows) != self._more:
            self._more = more
            self.refresh_bindings()
        self._part.put(self._part_lines(self._list_width - 1, self._rows - self._listed()))

    def _part_lines(self, width: int, height: int) -> list[Line]:
        laid = self._laid()
        if height < LEAST_DRAWING or not isinstance(laid, Laid):
            return []
        from benchmate.screen.instrument.part_drawing import Part, scale_words, turned

        unit = self._unit_of(laid.plan.job)
        lines, mm_a_column = turned(Part(laid.plan, unit=unit), width, height - 1)
        return [*lines, ((f" {scale_words(mm_a_column, unit)}"[:width], "dim"),)]

    def _plan_lines(self, width: int) -> list[Line]:
        laid = self._laid()
        if laid is None:
            return [(("The shop has no jobs yet: write one into its jobs folder.", "attend"),)]
        return plan_lines(laid, width, self._unit_of(self._jobs[self._at]))

    def _laid(self) -> Laid | str | None:
        """Give the plan of the job picked, or why it has none; None without any job."""
        if not self._jobs:
            return None
        job = self._jobs[self._at]
        if job not in self._plans:
            self._plans[job] = self._plan_or_why_not(job)
        return self._plans[job]

    def _plan_or_why_not(self, job: str) -> Laid | str:
        try:
            return self._plan_of(job) or ""
        except BenchmateError as error:
            return str(error)
