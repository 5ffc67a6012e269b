"""The screen program of a job: pick it, bend it, see what it came to."""

import logging
from collections import deque
from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Protocol

from msgspec.structs import replace
from textual.binding import Binding, BindingType
from textual.screen import Screen
from textual.timer import Timer

from benchmate.clock import Clock
from benchmate.errors import BenchmateError
from benchmate.screen.client import Ended, Happening, OpenBench
from benchmate.screen.instrument.answers import FLASHES_A_SECOND
from benchmate.screen.live_app import LiveApp
from benchmate.screen.pages.bend_page import BendPage
from benchmate.screen.pages.figures_lines import bend_lines, sensor_lines
from benchmate.screen.pages.nudge_page import NudgePage
from benchmate.screen.pages.plan_lines import Laid
from benchmate.screen.pages.text_page import TextPage, change_lines, help_lines, opening_lines
from benchmate.screen.remembered import Remembered
from benchmate.screen.state.bench_state import (
    BenchState,
    after,
    asked_zero,
    entered_angle,
    leaving,
    noticed,
)
from benchmate.screen.text import outcome
from benchmate.screen.words.ink import Line
from benchmate.screen.words.sentences import told
from benchmate.stream import Done, Foot, Reading
from benchmate.units import LengthUnit
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.layout.plan import Plan
    from benchmate.screen.instrument.part_drawing import Part
    from benchmate.screen.pages.part_page import PartPage

DOUBLE_PRESS_S = 0.4
"""Two short presses of the foot within it are one double press."""
REHEARSAL_PATIENCE_S = 0.7
RECENT = 200
"""Readings that the sensor's page looks back on."""
CAUTIONS_S = 6.0
"""Least time for which the cautions stand, unless they are closed with a key."""

_log = logging.getLogger(__name__)


class Start(Protocol):
    """Gives the command line of the bench process for a job, from a bend on (1: from its start)."""

    def __call__(self, job: str, bend: int) -> Sequence[str]:
        """Give the command line."""
        ...


class BenchApp(LiveApp):
    """The job and bend screens over one bench process.

    ``jobs`` are the names to pick from; ``plan_of(job)`` gives a job's plan or None when there is
    none to show, and a BenchmateError it raises is shown in the plan's place; ``start(job, bend)``
    gives the bench's command line. With ``job`` the bend screen comes first and the program ends
    with the job. A rehearsal is worked ``by_hand`` unless somebody simulated is at the pump.
    ``unit_of(job)`` says in which unit a job's lengths are shown; ``history_of(job, columns,
    rows)`` gives what is known of the job's setup as lines. ``following``: it is another screen's
    bench, and is told nothing. ``has_foot``: its foot switch is heard where this asks.
    ``open_bench`` and ``clock`` stand in
    for the process and the time in tests.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("question_mark", "help", "help", show=False),
    ]

    def __init__(
        self,
        jobs: Sequence[str],
        plan_of: Callable[[str], Laid | None],
        start: Start,
        job: str | None = None,
        rehearsal: bool = False,
        *,
        by_hand: bool | None = None,
        bites: bool = False,
        cautions: bool = True,
        following: bool = False,
        has_foot: bool = False,
        unit_of: Callable[[str], LengthUnit] = lambda _job: "mm",
        history_of: Callable[[str, int, int], Sequence[str]] | None = None,
        open_bench: OpenBench | None = None,
        clock: Clock | None = None,
        remembered: Remembered | None = None,
    ) -> None:
        super().__init__(open_bench, clock, remembered)
        self._jobs = list(jobs)
        self._plan_of = plan_of
        self._start = start
        self._job = job
        self._rehearsal = rehearsal
        self._bites = bites
        self._following = following
        self._has_foot = has_foot
        self._unit_of = unit_of
        self._history_of = history_of
        self._recent: deque[Reading] = deque(maxlen=RECENT)
        self._by_hand = rehearsal if by_hand is None else by_hand
        first = partial(opening_lines, rehearsal=rehearsal, by_hand=self._by_hand)
        self._cautions = TextPage(first, "understood", rehearsal=rehearsal) if cautions else None
        self._shown_at = 0.0
        self._tick = 0
        self._first_press: Timer | None = None
        """Runs from a short press of the foot until it can no longer be the first of two."""
        self.state = BenchState(rehearsal=rehearsal)
        """The job as the stream has told it; stays readable after the program ended."""
        self._laid: Laid | None = None
        self._aside: TextPage | PartPage | None = None
        """The page that a key has laid over the bend."""
        self._drawing: PartPage | None = None
        self._sensor_page: TextPage | None = None
        self._bend_screen: BendPage | None = None

    def get_default_screen(self) -> Screen[None]:
        """Give the first screen: the jobs, or the bends of the job asked for."""
        if self._job is not None:
            return self._show_bends_of(self._job)
        from benchmate.screen.pages.job_page import JobPage

        return JobPage(
            self._jobs, self._plan_of, self.begin, self._unit_of, rehearsal=self._rehearsal
        )

    def on_mount(self) -> None:
        """Show the cautions over the first screen."""
        super().on_mount()
        if self._cautions is not None:
            self.push_screen(self._cautions)
        self._shown_at = self.clock.now()

    def begin(self, job: str) -> None:
        """Start the bench on a job and show its bends."""
        self.push_screen(self._show_bends_of(job))

    def _show_bends_of(self, job: str) -> BendPage:
        self.state = BenchState(
            job=job,
            rehearsal=self._rehearsal,
            by_hand=self._by_hand,
            bites=self._bites,
            following=self._following,
            unit=self._unit_of(job),
        )
        self._laid = None
        self._bend_screen = BendPage(
            self._send,
            self._restart,
            self._tell,
            self.state,
            self.clock.now(),
            has_foot=self._has_foot,
        )
        # The bench's start and the plan's sums compete with the first paint: that comes first.
        self.call_after_refresh(self._bring_up, job)
        return self._bend_screen

    def took(self, happening: Happening) -> None:
        """Fold what happened and draw; at the end of the job show what it came to."""
        if self.state.done and isinstance(happening, Ended):
            return
        if isinstance(happening, Foot):
            self._foot(happening.press)
            return
        self._fold(happening)
        if isinstance(happening, Done) and self.state.link != "leaving":
            last = "to the jobs" if self._job is None else "end"
            self.push_screen(
                TextPage(self._summary_lines, last, rehearsal=self._rehearsal), self._after_summary
            )

    def _foot(self, press: str) -> None:
        """Give a press of the foot switch to the page in front; two short ones make a double."""
        if press == "long":
            self._pressed("long")
        elif self._first_press is None:
            self._first_press = self.set_timer(DOUBLE_PRESS_S, lambda: self._pressed("short"))
        else:
            self._pressed("double")

    def _pressed(self, press: str) -> None:
        if self._first_press is not None:
            self._first_press.stop()
            self._first_press = None
        page = self.screen
        if isinstance(page, BendPage | NudgePage):
            page.foot(press)
        elif isinstance(page, TextPage):
            page.action_close()

    def pulled(self, reading: Reading | None) -> None:
        """Fold the newest reading if it is news, and draw what time alone changes."""
        if reading is not None and reading is not self.state.reading:
            self._recent.append(reading)
            self._fold(reading)
            if self._sensor_page is not None and self.screen is self._sensor_page:
                self._sensor_page.draw()
        elif (tick := int(self.clock.now() * 2 * FLASHES_A_SECOND)) != self._tick:
            # Flashing lamps, and a reading that has become too old.
            self._tick = tick
            self._draw()

    def running(self) -> bool:
        """Whether there is a bench to wait for before leaving."""
        return self._bend_screen is not None and self.state.link in {"starting", "up", "again"}

    def patience_s(self) -> float:
        """Give how long to wait: no tube is at stake where the pump is worked by keys."""
        return REHEARSAL_PATIENCE_S if self.state.by_hand else super().patience_s()

    def left(self) -> None:
        """Say on the screen that the bench finishes what is under way."""
        if self.state.by_hand and self.state.mid_hit:
            # Nobody can open the valve once the bench hears no more.
            self.command("release")
        self.state = leaving(self.state)
        self._draw()

    def last_words(self, *, at_once: bool) -> str:
        """Say what was logged, unless the page at the job's end has."""
        return printable(outcome.last_words(self.state, at_once=at_once), 400)

    def action_help(self) -> None:
        """Show keys and cautions."""
        if not isinstance(self.screen, TextPage):
            now = told(self.state) if self._bend_screen is not None else ""
            self._lay_over(TextPage(partial(help_lines, now=now), rehearsal=self._rehearsal))

    def action_changes(self) -> None:
        """Show what working the part out again from the bends made has changed."""
        target = self.state.target
        if target is not None and target.changed:
            further = target.bend == 1
            lines = partial(change_lines, target.changed, further=further)
            self._lay_over(TextPage(lines, rehearsal=self._rehearsal))

    def action_part(self) -> None:
        """Show the part, as bent so far over as planned; not while the tube is under load."""
        if self._laid is None or self.state.mid_hit:
            self.bell()
            return
        from benchmate.screen.pages.part_page import PartPage

        self._drawing = PartPage(partial(self._part, self._laid.plan), rehearsal=self._rehearsal)
        self._lay_over(self._drawing)

    def action_details(self) -> None:
        """Show this bend in figures."""
        if self._bend_screen is not None:
            self._lay_over(
                TextPage(
                    lambda width: bend_lines(self.state, width),
                    "back",
                    rehearsal=self._rehearsal,
                )
            )

    def action_sensor(self) -> None:
        """Show the sensor: its angle, noise and faults, live."""
        if self._bend_screen is None or self.state.mid_hit:
            self.bell()
            return
        self._sensor_page = TextPage(
            lambda width: sensor_lines(self.state, tuple(self._recent), self.clock.now(), width),
            "back",
            rehearsal=self._rehearsal,
        )
        self._lay_over(self._sensor_page)

    def action_history(self) -> None:
        """Show the bends of this setup; not while the tube is under load."""
        history_of = self._history_of
        if history_of is None or self._bend_screen is None or self.state.mid_hit:
            self.bell()
            return
        try:
            found = history_of(self.state.job, self.size.width - 2, self.size.height - 2)
        except BenchmateError as error:
            self._tell(str(error))
            return
        lines: list[Line] = [((f" {printable(line, 400)}", "plain"),) for line in found]
        self._lay_over(TextPage(lambda _width: lines, "back", rehearsal=self._rehearsal))

    def _lay_over(self, page: "TextPage | PartPage") -> None:
        self._aside = page
        self.push_screen(page)

    def _part(self, plan: "Plan") -> "Part":
        from benchmate.screen.instrument.part_drawing import Part

        state = self.state
        target = None if state.done else state.target
        return Part(plan, state.unit, state.behind, target, under_way=True)

    def _fold(self, happening: Happening) -> None:
        idle = not _needs_the_screen(self.state)
        self.state = after(self.state, happening, self.clock.now())
        self._cautions_give_way()
        if self._aside is not None and self.screen is self._aside:
            told_there = self._aside is self._sensor_page and not self.state.mid_hit
            if idle and _needs_the_screen(self.state) and not told_there:
                # The numbers are needed now, or a fault is to be told.
                self._aside.action_close()
            elif self._aside is self._drawing and not isinstance(happening, Reading):
                self._drawing.draw()
        self._draw()

    def _cautions_give_way(self) -> None:
        """Take the cautions away once zero is taken: a foot switch has no other key for it."""
        read = self.clock.now() - self._shown_at >= CAUTIONS_S
        if read and self.screen is self._cautions and self.state.phase != "zeroing":
            self._cautions.action_close()

    def _draw(self) -> None:
        if self._bend_screen is not None:
            self._bend_screen.show_state(self.state, self.clock.now())

    def _tell(self, words: str) -> None:
        self.state = noticed(self.state, words)
        self._draw()

    def _send(self, command: str) -> None:
        if command == "zero":
            self.state = asked_zero(self.state)
        elif command.startswith("measured ") and not command.endswith("!"):
            self.state = entered_angle(self.state, float(command.split()[1]))
        self.command(command)
        self._draw()

    def _restart(self) -> None:
        if self.bench is not None:
            self.bench.start()

    def _bring_up(self, job: str) -> None:
        self.open(lambda: self._start(job, self.state.resume_at))
        self.call_later(self._plan, job)

    def _plan(self, job: str) -> None:
        try:
            self._laid = self._plan_of(job)
        except BenchmateError as error:
            # The bench says the same in its own words; here it only means angles unknown as yet.
            _log.info("no plan of %s to show: %s", job, error)
            return
        if self._laid is not None:
            angles = tuple(bend.bend_angle_deg for bend in self._laid.plan.bends)
            self.state = replace(self.state, planned=angles)
            self._draw()

    def _summary_lines(self, _width: int) -> list[Line]:
        table: list[Line] = [
            ((" " + row, "good" if seen.good else "attend"),)
            for row, seen in outcome.rows(self.state)
        ]
        totals: list[Line] = [((" " + row, "bold"),) for row in outcome.totals(self.state)]
        blank: Line = (("", "plain"),)
        head: Line = ((" " + outcome.HEAD, "dim"),)
        return [((f" {self.state.job}: done", "bold"),), blank, head, *table, blank, *totals]

    def _after_summary(self, _: None) -> None:
        if self._job is not None:
            self.exit(self.status)
            return
        if self._bend_screen is not None:
            self._bend_screen.dismiss(None)
            self._bend_screen = None


def _needs_the_screen(state: BenchState) -> bool:
    """Say whether the numbers are being pumped by, or something is wrong."""
    return state.mid_hit or bool(state.blinding) or state.link in {"again", "lost"}
