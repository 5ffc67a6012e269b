"""The shop's folder: its files found, read, held against each other, kept as frozen values."""

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Literal, NoReturn, TypeVar

from benchmate.errors import Refusal
from benchmate.places import starter_shop
from benchmate.shop.field_readers import Problem, Report, Table, name, read_table
from benchmate.shop.nodes import UnreadableError, read_nodes
from benchmate.shop.parts import Bench, Die, Job, Tube
from benchmate.shop.struct import ShopStruct
from benchmate.shop.tables import BENCH, DIE, JOB, TUBE, against_setup, misfits, too_far
from benchmate.shop.tooling import Material, RuleSet
from benchmate.shop.tooling_tables import MATERIALS, RULES, unknown_material
from benchmate.wording import nearest, printable

FileKind = Literal["die", "tube", "job"]
FOLDERS: Mapping[FileKind, str] = {"die": "dies", "tube": "tubes", "job": "jobs"}
BENCH_FILE = "bench.yaml"
MATERIALS_FILE = "materials.yaml"
RULES_FOLDER = "rules"

P = TypeVar("P", bound=ShopStruct)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """What the person wrote: the bench, and dies, tubes and jobs by name.

    After ``open`` and ``for_job`` everything in it is good. After ``read`` it holds what is good;
    asking for the rest is a Refusal that says what is wrong with it.
    """

    path: Path
    dies: Mapping[str, Die]
    tubes: Mapping[str, Tube]
    jobs: Mapping[str, Job]
    good_bench: Bench | None
    """None when bench.yaml is wrong; ``bench`` refuses then."""
    materials: Mapping[str, Material]
    """What cores and plates are made of: the shop's materials.yaml, else the starter shop's."""
    problems: tuple[Problem, ...] = ()

    @classmethod
    def open(cls, path: str | Path) -> "Shop":
        """Read every file of the shop; Refusal with all that is wrong, a line each."""
        return _sound(_read(_root(path)))

    @classmethod
    def read(cls, path: str | Path) -> "tuple[Shop, tuple[Problem, ...]]":
        """Read every file of the shop; give what is good, and all that is wrong with the rest."""
        shop = _read(_root(path))
        return shop, shop.problems

    @classmethod
    def for_job(cls, path: str | Path, job: str) -> "Shop":
        """Read the bench and one job with its die and its tube, no other file.

        Refusal when one of the four is wrong, or when no job has that name.
        """
        shop = _read(_root(path), job)
        if not shop.problems:
            shop.job(job)
        return _sound(shop)

    @classmethod
    def for_bend(cls, path: str | Path, *, die: str, tube: str, angle_deg: float) -> "Shop":
        """Read the shop for one bend without a job; wrong files beside its own don't matter.

        Refusal when bench, die or tube is wrong or not there, when the tube doesn't go in the die,
        when the angle is none, or when the die doesn't bend so far.
        """
        if not angle_deg > 0.0:
            raise Refusal(f"a bend angle of {angle_deg:g} deg; it must be above 0")
        shop = _read(_root(path))
        if shop.good_bench is None:
            shop._refuse(BENCH_FILE)
        there = shop.die(die)
        for says in (misfits(shop.tube(tube), there, shop.bench.unit), too_far(angle_deg, there)):
            if says:
                raise Refusal(says)
        return shop

    @property
    def bench(self) -> Bench:
        """Give the bench; Refusal when bench.yaml is wrong."""
        if self.good_bench is None:
            self._refuse(BENCH_FILE)
        return self.good_bench

    def die(self, name: str) -> Die:
        """Give the die of that name; Refusal when there is none, or when its file is wrong."""
        return self.dies[name] if name in self.dies else self._missing("die", name)

    def tube(self, name: str) -> Tube:
        """Give the tube of that name; Refusal when there is none, or when its file is wrong."""
        return self.tubes[name] if name in self.tubes else self._missing("tube", name)

    def job(self, name: str) -> Job:
        """Give the job of that name; Refusal when there is none, or when its file is wrong."""
        return self.jobs[name] if name in self.jobs else self._missing("job", name)

    def rules(self) -> tuple[RuleSet, ...]:
        """Give the rule sets of the shop's rules/, else of the starter shop; Refusal if wrong."""
        return _rules(self.path)

    def _missing(self, kind: FileKind, name: str) -> NoReturn:
        names = _names(self.path, kind)
        if name in names:
            self._refuse(_file(kind, name))
        raise Refusal(_no_such(self.path, kind, name, names))

    def _refuse(self, file: str) -> NoReturn:
        where = _shown(self.path, file)
        raise _refusal(tuple(each for each in self.problems if each.file == where))


def _read(root: Path, only_job: str | None = None) -> Shop:
    """Read the whole shop, or the bench and what one job needs."""

    def only(names: Iterable[str | None]) -> set[str | None] | None:
        return None if only_job is None else set(names)

    bench, bench_report = _load(root, BENCH_FILE, BENCH)
    jobs, job_reports = _load_all(root, "job", JOB, only([only_job]))
    dies, die_reports = _load_all(root, "die", DIE, only(job.die for job in jobs.values()))
    tubes, tube_reports = _load_all(root, "tube", TUBE, only(job.tube for job in jobs.values()))
    materials, materials_report = _materials(root)
    for stem, die in dies.items():
        for key, part in (("core", die.core), ("plates", die.plates)):
            if part is not None and materials and part.material not in materials:
                says = unknown_material(part.material, materials)
                die_reports[stem].say_of(f"{key} material", says)
    dies = {stem: die for stem, die in dies.items() if not die_reports[stem].problems}
    unit = "mm" if bench is None else bench.unit
    tubes_there, dies_there = _names(root, "tube"), _names(root, "die")
    fitting = {}
    for stem, job in jobs.items():
        report = job_reports[stem]
        if job.tube not in tubes_there:
            report.say_of("tube", _no_such(root, "tube", job.tube, tubes_there))
        if job.die not in dies_there:
            report.say_of("die", _no_such(root, "die", job.die, dies_there))
        for key, says in against_setup(job, tubes.get(job.tube), dies.get(job.die), unit):
            report.say_of(key, says)
        if not report.problems:
            fitting[stem] = job
    misnamed = [] if only_job is not None else _misnamed(root)
    reports = [
        bench_report,
        materials_report,
        *die_reports.values(),
        *tube_reports.values(),
        *job_reports.values(),
    ]
    return Shop(
        path=root,
        good_bench=bench,
        dies=MappingProxyType(dies),
        tubes=MappingProxyType(tubes),
        jobs=MappingProxyType(fitting),
        materials=MappingProxyType(materials),
        problems=(*(each for report in reports for each in report.problems), *misnamed),
    )


def _load_all(
    root: Path, kind: FileKind, table: Table[P], only: set[str | None] | None
) -> tuple[dict[str, P], dict[str, Report]]:
    parts: dict[str, P] = {}
    reports: dict[str, Report] = {}
    for stem in _names(root, kind):
        if only is not None and stem not in only:
            continue
        part, report = _load(root, _file(kind, stem), table)
        reports[stem] = report
        written = getattr(part, kind, stem)
        if written != stem:
            report.say_of(
                kind, f"'{written}' is written in the file of {printable(stem)}; make the two equal"
            )
        elif part is not None:
            parts[stem] = part
    return parts, reports


def _materials(root: Path) -> tuple[dict[str, Material], Report]:
    """Read materials.yaml, the starter shop's where the shop has none of its own."""
    home = root if (root / MATERIALS_FILE).exists() else starter_shop()
    found, report = _load(home, MATERIALS_FILE, MATERIALS)
    return {each.material: each for each in found.materials} if found else {}, report


def _rules(root: Path) -> tuple[RuleSet, ...]:
    home = root if (root / RULES_FOLDER).is_dir() else starter_shop()
    sets, problems = [], []
    for path in sorted((home / RULES_FOLDER).glob("*.yaml")):
        found, report = _load(home, f"{RULES_FOLDER}/{path.name}", RULES)
        problems += report.problems
        sets += [found] if found else []
    if problems:
        raise _refusal(tuple(problems))
    return tuple(sets)


def _load(root: Path, file: str, table: Table[P]) -> tuple[P | None, Report]:
    """Read one file; the report holds what is wrong with it."""
    report = Report(_shown(root, file), (root / file).parent)
    try:
        if file != BENCH_FILE:
            name(Path(file).stem)
        node = read_nodes(_inside(root, root / file))
    except UnreadableError as error:
        report.say(error.line, "", error.says)
    except ValueError as error:
        report.say(0, "", str(error))
    else:
        return read_table(table, node, "", report), report
    return None, report


def _inside(root: Path, file: Path) -> Path:
    """Give the file that is really meant, links followed; ValueError when it lies elsewhere."""
    real = Path(os.path.realpath(file))
    if not real.is_relative_to(os.path.realpath(root)):
        raise ValueError("a link that leads out of the shop folder; put the file itself there")
    return real


def _root(path: str | Path) -> Path:
    root = Path(path)
    if not root.is_dir():
        raise Refusal(f"{printable(str(path))}: no such folder; give one that holds {BENCH_FILE}")
    return root


def _names(root: Path, kind: FileKind) -> list[str]:
    """List the names that the folder's files give; a folder that isn't there holds none."""
    folder = root / FOLDERS[kind]
    try:
        files = [path.name for path in folder.iterdir()]
    except FileNotFoundError:
        return []
    except OSError as error:
        where = _shown(root, FOLDERS[kind])
        raise Refusal(f"{where}: it can't be read ({error.strerror}); make it a folder") from error
    return sorted(file[:-5] for file in files if file.endswith(".yaml") and file[0] != ".")


def _misnamed(root: Path) -> list[Problem]:
    """Say which files are nearly named as shop files, and so would be passed over."""
    says = "a shop file's name ends in .yaml; rename it"
    return [
        Problem(_shown(root, f"{folder}/{path.name}"), 0, "", says)
        for folder in FOLDERS.values()
        for path in sorted((root / folder).glob("*.[Yy]*[Mm][Ll]"))
        if path.name[0] != "." and path.suffix in {".yml", ".YML", ".YAML"}
    ]


def _file(kind: FileKind, name: str) -> str:
    return f"{FOLDERS[kind]}/{name}.yaml"


def _shown(root: Path, file: str) -> str:
    return printable(str(root / file), 400)


def _no_such(root: Path, kind: FileKind, name: str, names: list[str]) -> str:
    said = f"no {kind} '{printable(name, 70)}' in {_shown(root, FOLDERS[kind])}"
    if close := nearest(name, names):
        return f"{said}; did you mean {printable(close)}?"
    if not names:
        return f"{said}; write {FOLDERS[kind]}/NAME.yaml there first"
    return f"{said}; there are {printable(', '.join(names), 300)}"


def _sound(shop: Shop) -> Shop:
    if shop.problems:
        raise _refusal(shop.problems)
    return shop


def _refusal(problems: tuple[Problem, ...]) -> Refusal:
    return Refusal("\n".join(map(str, problems)))
