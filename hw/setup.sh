#!/bin/sh
# Set benchmate up in this checkout, once, then run it:
#
#     sh hw/setup.sh demo            a whole simulated job, no hardware
#     sh hw/setup.sh test            the test suite
#     sh hw/setup.sh COMMAND ...     any other command of benchmate, e.g. watch JOB
#     sh hw/setup.sh link            a command benchmate that can be typed in any folder
#     sh hw/setup.sh update          the newest version, if its check goes as well as this one's
#     sh hw/setup.sh --undo          take away what was put outside this checkout
#
# Everything goes into the checkout (.venv, .cache), but the link; nothing of the system is changed.
# The network is needed the first time and for an update, and not at all in between.
set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd -P)
venv=$here/.venv
stamp=$venv/benchmate-stamp
log=$venv/benchmate-setup.log
# There while packages are being put in: after a kill or a power cut nobody knows what is whole.
unfinished=$here/.setup-unfinished
# There while an update changes over: which version to go back to.
from=$here/.update-from
before=$here/.venv-before
next=$here/.next

say() {
    printf '%s\n' "$*" >&2
}

give_up() {
    say "setup: $*"
    exit 1
}

# What an up-to-date environment of the given kind (run or test) carries as its stamp: where it
# stands, on which Python, and from which files it was installed.
stamp_for() {
    printf '%s\n%s\n%s\n' "$1" "$here" "$(readlink -f "$venv/bin/python")"
    cksum <"$here/pyproject.toml"
    cksum <"$here/$(lock_for "$1")"
}

lock_for() {
    case $1 in
        test) echo hw/requirements-test.lock ;;
        *) echo hw/requirements.lock ;;
    esac
}

up_to_date() {
    [ -f "$stamp" ] && [ -x "$venv/bin/python" ] || return 1
    [ "$(cat "$stamp")" = "$(stamp_for "$1")" ]
}

on_a_pi() {
    grep -qs 'Raspberry Pi' /proc/device-tree/model
}

suits() {
    "$1" -c 'import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 14))' 2>/dev/null
}

# The real path of a Python that will do. On a Pi the system's own comes first: only that one sees
# apt's lgpio.
find_python() {
    first=
    if on_a_pi; then first=/usr/bin/python3; fi
    for python in "$venv/bin/python" $first python3 python3.13 python3.12 python3.11 python3.14; do
        if suits "$python"; then
            "$python" -c 'import os, sys; print(os.path.realpath(sys.executable))'
            return
        fi
    done
    return 1
}

# A step of the installation: quiet when it goes well, in plain words when it doesn't.
step() {
    if "$@" >>"$log" 2>&1; then return; fi
    # It came to its own end, so what it left is sound.
    rm -f "$unfinished"
    explain
    exit 1
}

# One set-up at a time; the lock goes with the process, however that ends.
lock() {
    # An update has the lock for all that it starts.
    [ -z "${SETUP_LOCKED-}" ] && command -v flock >/dev/null || return 0
    exec 9>"$here/.setup-lock"
    flock -n 9 && return
    say "Another set-up is at work in $here; this one waits until it is done."
    flock 9
}

unlock() {
    [ -n "${SETUP_LOCKED-}" ] || exec 9>&-
}

must_be_writable() {
    [ -w "$here" ] || give_up "$here cannot be written by $(id -un); run this as its owner."
    [ ! -e "$venv" ] || [ -w "$venv" ] ||
        give_up "$venv belongs to another user; remove it (sudo rm -r '$venv') and run this again."
}

explain() {
    if grep -qi 'no space left' "$log"; then
        say "setup: the disk is full (or /tmp is, where the downloads are unpacked)."
        say "Free some room, then run the same command again."
    elif grep -qi 'certificate.*\(not yet valid\|expired\)' "$log"; then
        say "setup: the download was refused because of the date; this machine thinks it is $(date)."
        say "Set the clock (sudo date -s '2026-01-31 08:00'), then run the same command again."
    elif grep -qi 'name resolution\|newconnection\|connection\|timed out\|unreachable' "$log"; then
        say "setup: the packages cannot be fetched; is the network connected?"
        say "It is needed this once; then run the same command again."
    else
        say "setup: the installation failed; the last lines of $log say:"
        tail -n 5 "$log" >&2
    fi
}

check_room() {
    free=$(df -Pk "$here" | awk 'NR == 2 { print int($4 / 1024) }')
    [ "$free" -ge "$1" ] || give_up "only $free MB are free where $here is; $1 MB are needed."
}

install() {
    kind=$1
    python=$(find_python) || give_up "no Python from 3.11 to 3.14 is here;" \
        "install one: sudo apt install -y python3 python3-venv"
    "$python" -c 'import sys; sys.exit(sys.maxsize < 2**32)' ||
        give_up "this system is 32-bit; benchmate needs a 64-bit one (on a Pi: Raspberry Pi OS, 64-bit)."
    "$python" -c 'import ensurepip, venv' 2>/dev/null ||
        give_up "Python's venv module is missing; install it: sudo apt install -y python3-venv"

    # A usable environment is brought up to date in place, so that a folder that was moved in a
    # shop without network works again; anything else is made anew.
    clear=
    { [ ! -e "$unfinished" ] && "$venv/bin/python" -c 'import pip' 2>/dev/null; } || clear=--clear
    case $clear-$kind in
        --clear-test) check_room 1200 ;;
        --clear-run) check_room 300 ;;
    esac
    say "Setting up benchmate, this once; it takes a minute or two."
    say "  1 of 3: a place of its own, $venv"
    system=
    if on_a_pi; then system=--system-site-packages; fi
    mkdir -p "$venv"
    : >"$unfinished"
    # shellcheck disable=SC2086 # empty means no option
    made=$("$python" -m venv $clear $system "$venv" 2>&1) ||
        give_up "the folder $venv cannot be made; Python says: $(printf '%s' "$made" | tail -n 1)"
    rm -f "$stamp"
    : >"$log"
    export PIP_USER=0 PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_NO_INPUT=1
    # In the checkout, so that nothing is left when that goes, and nothing is fetched twice.
    export PIP_CACHE_DIR="${BENCHMATE_CACHE:-$here/.cache/pip}"
    say "  2 of 3: the packages that it needs ($(lock_for "$kind"))"
    step "$venv/bin/python" -m pip install --retries 2 --require-hashes --only-binary :all: \
        -r "$here/$(lock_for "$kind")"
    say "  3 of 3: benchmate itself"
    step "$venv/bin/python" -m pip install --no-deps --no-build-isolation --editable "$here"
    # The stamp may reach the card before what it vouches for; a pulled plug must not part them.
    sync -f "$venv" 2>/dev/null || sync
    stamp_for "$kind" >"$stamp"
    rm -f "$unfinished"
    if on_a_pi && ! "$venv/bin/python" -c 'import importlib.util as u, sys
sys.exit(u.find_spec("lgpio") is None)'; then
        say "The pins (buzzer, lights, foot switch) also want: sudo apt install -y python3-lgpio"
    fi
}

set_up() {
    up_to_date "$1" && return
    [ "$1" = run ] && up_to_date test && return
    must_be_writable
    lock
    # Whoever was at work before us may have done it.
    up_to_date "$1" || { [ "$1" = run ] && up_to_date test; } || install "$1"
    unlock
}

bin() {
    [ -n "${HOME-}" ] || give_up "HOME is not set, so there is no place for a command of yours."
    echo "$HOME/.local/bin"
}

link() {
    folder=$(bin)
    at=$folder/benchmate
    if [ -e "$at" ] || [ -L "$at" ]; then
        [ "$(readlink -f "$at")" = "$here/hw/benchmate" ] ||
            give_up "$at is there already and isn't this benchmate; move it away first."
    else
        { mkdir -p "$folder" && ln -s "$here/hw/benchmate" "$at"; } 2>/dev/null ||
            give_up "$at cannot be made by $(id -un); see that $folder can be written."
    fi
    say "benchmate is a command now: $at."
    case ":$PATH:" in
        *":$folder:"*) ;;
        *) say "Log out and in once, so that your shell looks there." ;;
    esac
    say "sh '$here/hw/setup.sh' --undo takes it away."
}

undo() {
    at=$(bin)/benchmate
    if [ -L "$at" ] && [ "$(readlink -f "$at")" = "$here/hw/benchmate" ]; then
        rm "$at" 2>/dev/null || give_up "$at cannot be removed by $(id -un)."
        say "Taken away: $at."
    else
        say "Nothing of this checkout was put outside it."
    fi
    say "What is left is the folder $here, and what is yours: your shop's files, and the bends in"
    say "${XDG_DATA_HOME:-$HOME/.local/share}/benchmate."
}

of_git() {
    git -C "$here" "$@"
}

# The process in which this checkout's benchmate runs, if there is one.
running() {
    # Whoever looks for the words has them among his own: it must begin with them.
    # shellcheck disable=SC2013 # no name under /proc has a space
    for words in $(grep -lsaF -- "$venv/bin/python" /proc/[0-9]*/cmdline); do
        case $({ tr '\0' ' ' <"$words"; } 2>/dev/null) in
            "$venv/bin/python "*"-m benchmate "*)
                words=${words%/cmdline}
                echo "${words#/proc/}"
                return
                ;;
        esac
    done
    return 1
}

# Give back the version that an update was to replace. May be run again wherever it was stopped.
go_back() {
    old=$(cat "$from")
    if [ -e "$before" ]; then
        rm -rf "$venv"
        mv "$before" "$venv"
    fi
    of_git reset --quiet --keep "$old" ||
        give_up "the version before ($old) cannot be brought back: git -C '$here' status says why."
    rm -f "$from"
}

drop_next() {
    of_git worktree remove --force "$next" 2>/dev/null || rm -rf "$next"
    of_git worktree prune
}

# Ask a version's check, quietly; its exit status, and its words in a file.
checked() {
    sh "$1/hw/setup.sh" check >"$here/.cache/check" 2>&1
}

mend() {
    lock
    if [ -e "$from" ]; then
        say "An update was interrupted here; going back to the version before it."
        go_back
        drop_next
    fi
    unlock
}

update() {
    command -v git >/dev/null || give_up "git is missing; install it: sudo apt install -y git"
    of_git rev-parse --git-dir >/dev/null 2>&1 ||
        give_up "$here was not fetched with git, so it cannot be updated; fetch it anew with git clone."
    must_be_writable
    [ -z "$(of_git status --porcelain --untracked-files=no)" ] ||
        give_up "files of benchmate were changed in $here; git -C '$here' stash puts them aside."
    if busy=$(running); then give_up "benchmate runs (process $busy); end it, then update."; fi
    say "Looking for a newer version ..."
    of_git fetch --quiet 2>/dev/null ||
        give_up "the newer version cannot be fetched; is the network connected?"
    new=$(of_git rev-parse --verify --quiet '@{upstream}' 2>/dev/null) ||
        give_up "this checkout follows no branch; git -C '$here' switch main goes back to one."
    old=$(of_git rev-parse HEAD)
    if of_git merge-base --is-ancestor "$new" "$old"; then
        say "This is the newest version."
        return
    fi
    of_git merge-base --is-ancestor "$old" "$new" ||
        give_up "$here has commits of its own, which an update would lose; merge them by hand."
    set_up run
    mkdir -p "$here/.cache"
    export BENCHMATE_CACHE="$here/.cache/pip"
    was=0
    checked "$here" || was=$?
    say "Installing it beside this one ..."
    drop_next
    of_git worktree add --quiet --detach "$next" "$new"
    if ! sh "$next/hw/setup.sh" --version >"$here/.cache/check" 2>&1; then
        cat "$here/.cache/check" >&2
        drop_next
        give_up "the newer version cannot be installed; this one stays."
    fi
    try "$next"
    say "Changing over ..."
    lock
    rm -rf "$before"
    echo "$old" >"$from"
    sync -f "$from" 2>/dev/null || sync
    mv "$venv" "$before"
    mv "$next/.venv" "$venv"
    of_git merge --quiet --ff-only "$new"
    # Where it stands now; all that it needs is there already.
    if ! SETUP_LOCKED=yes sh "$here/hw/setup.sh" --version >"$here/.cache/check" 2>&1; then
        cat "$here/.cache/check" >&2
        go_back
        drop_next
        give_up "the newer version cannot be set up here; the one before is back."
    fi
    rm -f "$from"
    rm -rf "$before"
    drop_next
    unlock
    say "Updated: $(of_git log -1 --format='%h of %cs'). What changed: $here/CHANGELOG.md"
}

# See whether the newer version's check goes as well as this one's; else end, with all as it was.
try() {
    now=0
    checked "$1" || now=$?
    [ "$now" -gt "$was" ] || return 0
    cat "$here/.cache/check" >&2
    drop_next
    give_up "the newer version's check fails where this one's doesn't; this one stays."
}

main() {
    if [ -z "${SETUP_LOCKED-}" ] && [ -e "$from" ]; then mend; fi
    trap 'say "setup: stopped; run the same command again to go on."; exit 130' INT
    case ${1-} in
        update) update ;;
        link)
            set_up run
            link
            ;;
        --undo) undo ;;
        test)
            set_up test
            trap - INT
            shift
            cd "$here"
            exec "$venv/bin/python" -m pytest "$@"
            ;;
        *)
            set_up run
            trap - INT
            # The folder that the person stands in is no place to import Python files from.
            export PYTHONSAFEPATH=1
            exec "$venv/bin/python" -m benchmate "$@"
            ;;
    esac
}

# In one line, read before it runs: an update changes this very file.
main "$@"
