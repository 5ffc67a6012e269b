"""The job screen: pick a job, see its plan, start it."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.screen import Screen

from benchmate.errors import BenchmateError
from benchmate.screen.ink import Line
from benchmate.screen.planned import plan_lines
from benchmate.screen.widgets import Lines
from benchmate.units import LengthUnit
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.layout.plan import Plan


class JobScreen(Screen[None]):
    """A list of jobs beside the plan of the one picked."""

    DEFAULT_CSS = """
    JobScreen { layout: vertical; overflow: hidden; }
    JobScreen Lines { width: 1fr; height: 1; }
    JobScreen #columns { height: 1fr; overflow: hidden; }
    JobScreen #jobs { width: 26; height: 1fr; }
    JobScreen #plan { height: 1fr; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down,j", "pick(1)", "next job", show=False),
        Binding("up,k", "pick(-1)", "job before", show=False),
        Binding("enter,space", "begin", "start it", show=False),
    ]

    def __init__(
        self,
        jobs: Sequence[str],
        plan_of: "Callable[[str], Plan | None]",
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
        self._mark: Line = ((" SIMULATED ", "mark"),) if rehearsal else ()
        self._at = 0
        self._width, self._rows, self._list_width = 80, 22, 26
        self._list = Lines("jobs")
        self._plan = Lines("plan")
        self._header = Lines("header")
        self._footer = Lines("footer")
        self._plans: dict[str, Plan | str] = {}
        """Plans asked for since this screen was last gone to."""

    def compose(self) -> ComposeResult:
        """Put the list and the plan beside it between the two edges."""
        yield self._header
        yield Horizontal(self._list, self._plan, id="columns")
        yield self._footer

    def on_mount(self) -> None:
        """Draw it, so that the first frame is a whole one."""
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
            self._draw()

    def action_begin(self) -> None:
        """Start the job picked."""
        if self._jobs:
            self._begin(self._jobs[self._at])

    def _share(self, width: int, height: int) -> None:
        self._list_width = 26 if width >= 80 else 16
        self._list.styles.width = self._list_width
        self._width, self._rows = width, height - 2
        self._draw()

    def _draw(self) -> None:
        self._header.put([((" Jobs   ", "bold"), *self._mark)])
        self._list.put(self._job_lines(self._rows))
        self._footer.put([_KEYS])
        # A plan needs sums and the log: the list is painted before it.
        self.call_after_refresh(self._draw_plan)

    def _draw_plan(self) -> None:
        self._plan.put(self._plan_lines(max(self._width - self._list_width, 20)))

    def _job_lines(self, height: int) -> list[Line]:
        first = max(0, self._at - max(height, 1) + 1)
        lines: list[Line] = [
            (("\u2192 " + printable(job), "bold"),)
            if at == self._at
            else (("  " + printable(job), "plain"),)
            for at, job in enumerate(self._jobs)
        ]
        return lines[first:]

    def _plan_lines(self, width: int) -> list[Line]:
        if not self._jobs:
            return [(("The shop has no jobs yet: write one into its jobs folder.", "attend"),)]
        job = self._jobs[self._at]
        if job not in self._plans:
            self._plans[job] = self._plan_or_why_not(job)
        return plan_lines(self._plans[job], width, self._unit_of(job))

    def _plan_or_why_not(self, job: str) -> "Plan | str":
        try:
            return self._plan_of(job) or ""
        except BenchmateError as error:
            return str(error)


_KEYS: Line = (
    (" Enter: start this job ", "act"),
    ("  arrows", "key"),
    (" pick  ", "dim"),
    ("?", "key"),
    (" help  ", "dim"),
    ("q", "key"),
    (" quit", "dim"),
)
