"""``hw/setup.sh update``: beside the running version, checked, changed over, or gone back from."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

GIT = str(shutil.which("git"))
pytestmark = pytest.mark.skipif(not shutil.which("git"), reason="needs git")


def git(folder: Path, *words: str) -> str:
    who = ["-c", "user.name=A Tester", "-c", "user.email=tester@example.org"]
    ran = subprocess.run(
        [GIT, *who, "-C", str(folder), *words],
        capture_output=True,
        text=True,
        check=True,
        timeout=30,
    )
    return ran.stdout.strip()


@pytest.fixture
def source(checkout, tmp_path) -> Path:
    """Give where newer versions come from; ``checkout`` becomes a set-up clone of it."""
    source = tmp_path / "source"
    checkout.folder.rename(source)
    shutil.copy(Path(__file__).parents[2] / ".gitignore", source)
    (source / "version").write_text("old")
    git(tmp_path, "init", "--quiet", "--initial-branch=main", str(source))
    git(source, "add", ".")
    git(source, "commit", "--quiet", "-m", "old")
    git(tmp_path, "clone", "--quiet", str(source), str(checkout.folder))
    assert checkout.run("plan", "JOB").returncode == 0
    checkout.asked_for()
    return source


def publish(source: Path, **files: str) -> str:
    for name, content in {"version": "new", **files}.items():
        (source / name).write_text(content)
    git(source, "add", ".")
    git(source, "commit", "--quiet", "-m", "new")
    return git(source, "rev-parse", "HEAD")


def version(checkout) -> str:
    """Give the version that the checkout holds; it runs, and nothing of an update lies about."""
    assert git(checkout.folder, "status", "--porcelain") == ""
    left = {each.name for each in checkout.folder.iterdir()}
    assert not left & {".next", ".venv-before", ".update-from", ".setup-unfinished"}
    checkout.calls.unlink(missing_ok=True)
    ran = checkout.run("plan", "JOB")
    assert (ran.returncode, ran.stderr) == (0, "")
    assert checkout.asked_for() == ["python -m benchmate plan JOB"]
    assert git(checkout.folder, "worktree", "list").count("\n") == 0
    return (checkout.folder / "version").read_text()


def test_a_newer_version_is_installed_checked_and_changed_over_to(checkout, source):
    newer = publish(source)
    ran = checkout.run("update")
    assert ran.returncode == 0
    assert "Updated: " in ran.stderr
    asked = checkout.asked_for()
    assert asked.count("python -m benchmate check") == 2
    assert git(checkout.folder, "rev-parse", "HEAD") == newer
    assert version(checkout) == "new"


def test_the_newest_version_is_left_as_it_is(checkout, source):
    ran = checkout.run("update")
    assert (ran.returncode, ran.stderr.splitlines()[-1]) == (0, "This is the newest version.")
    assert version(checkout) == "old"


def test_a_version_whose_check_fails_never_takes_over(checkout, source):
    publish(source, broken="")
    ran = checkout.run("update")
    assert ran.returncode == 1
    assert "wrong    broken" in ran.stderr
    assert "this one stays" in ran.stderr
    assert version(checkout) == "old"


def test_a_check_that_fails_in_both_stands_in_no_update_s_way(checkout, source):
    # No sensor is plugged in: that is so before and after.
    publish(source)
    assert checkout.run("update", CHECK_STATUS="1").returncode == 0
    assert version(checkout) == "new"


def test_a_version_that_cannot_be_installed_never_takes_over(checkout, source):
    publish(source)
    ran = checkout.run("update", PIP_SAYS="ERROR: [Errno 28] No space left on device")
    assert ran.returncode == 1
    assert "the disk is full" in ran.stderr
    assert version(checkout) == "old"


def test_a_version_that_cannot_be_set_up_in_its_place_is_gone_back_from(checkout, source):
    publish(source)
    # Well in .next, and not where it is to stand.
    here = f"{checkout.folder}/.venv/bin/python"
    checkout.add_python("python3", at_pip=f'[ "$0" != "{here}" ] || exit 1;')
    ran = checkout.run("update")
    assert ran.returncode == 1
    assert "the one before is back" in ran.stderr
    assert version(checkout) == "old"


# Each is a command of the change-over: the machine is switched off as it begins.
@pytest.mark.parametrize(
    "at", ["mv:1", "mv:2", "git merge --quiet:1", "git worktree add:1", "rm -rf:2"]
)
def test_an_update_cut_off_anywhere_is_mended_by_the_next_run(checkout, source, at):
    publish(source)
    words, _, count = at.partition(":")
    tool, _, first = words.partition(" ")
    real = (checkout.tools / tool).readlink()
    (checkout.tools / tool).unlink()
    (checkout.tools / tool).write_text(f"""#!/bin/sh
case "$*" in
    *"{first}"*)
        echo >>"{checkout.folder}/../cuts"
        [ "$(grep -c "" "{checkout.folder}/../cuts")" != {count} ] || kill -9 $PPID ;;
esac
exec "{real}" "$@"
""")
    (checkout.tools / tool).chmod(0o755)
    assert checkout.run("update").returncode < 0
    (checkout.tools / tool).unlink()
    (checkout.tools / tool).symlink_to(real)
    mended = checkout.run("plan", "JOB")
    assert mended.returncode == 0
    assert checkout.run("update").returncode == 0
    assert version(checkout) == "new"


@pytest.mark.parametrize(
    ("trouble", "says"),
    [
        ("changed", "files of benchmate were changed"),
        ("own", "has commits of its own"),
        ("adrift", "follows no branch"),
        ("offline", "is the network connected?"),
        ("unpacked", "was not fetched with git"),
    ],
)
def test_what_stands_in_an_update_s_way_is_a_sentence(checkout, source, trouble, says):
    publish(source)
    folder = checkout.folder
    match trouble:
        case "changed":
            (folder / "version").write_text("mine")
        case "own":
            git(folder, "commit", "--quiet", "--allow-empty", "-m", "mine")
        case "adrift":
            git(folder, "checkout", "--quiet", "--detach")
        case "offline":
            source.rename(source.with_name("gone"))
        case "unpacked":
            shutil.rmtree(folder / ".git")
    ran = checkout.run("update")
    assert ran.returncode == 1
    assert says in ran.stderr
    assert "fatal:" not in ran.stderr
    assert (folder / "version").read_text() == ("mine" if trouble == "changed" else "old")


def test_no_version_is_changed_under_a_bench_that_runs(checkout, source):
    publish(source)
    python = checkout.folder / ".venv" / "bin" / "python"
    # Known by its command line, as anybody else's process would be.
    words = [str(python), "-c", "input()", "-m benchmate watch"]
    bench = subprocess.Popen(words, executable=sys.executable, stdin=subprocess.PIPE)
    try:
        ran = checkout.run("update")
    finally:
        bench.communicate(b"\n", timeout=30)
    assert ran.returncode == 1
    assert f"benchmate runs (process {bench.pid})" in ran.stderr
    assert version(checkout) == "old"
