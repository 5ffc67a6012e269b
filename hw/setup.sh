#!/bin/sh
# Set benchmate up in this checkout, once, then run it:
#
#     sh hw/setup.sh demo            a whole simulated job, no hardware
#     sh hw/setup.sh test            the test suite
#     sh hw/setup.sh COMMAND ...     any other command of benchmate, e.g. watch JOB
#
# Everything goes into the folder .venv beside this one; nothing of the system is changed. The
# network is needed the first time and after an update, and not at all in between.
set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd -P)
venv=$here/.venv
stamp=$venv/benchmate-stamp
log=$venv/benchmate-setup.log

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
    explain
    exit 1
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
    [ -w "$here" ] || give_up "$here cannot be written by $(id -un); run this as its owner."
    [ ! -e "$venv" ] || [ -w "$venv" ] ||
        give_up "$venv belongs to another user; remove it (sudo rm -r '$venv') and run this again."
    python=$(find_python) || give_up "no Python from 3.11 to 3.14 is here;" \
        "install one: sudo apt install -y python3 python3-venv"
    "$python" -c 'import sys; sys.exit(sys.maxsize < 2**32)' ||
        give_up "this system is 32-bit; benchmate needs a 64-bit one (on a Pi: Raspberry Pi OS, 64-bit)."
    "$python" -c 'import ensurepip, venv' 2>/dev/null ||
        give_up "Python's venv module is missing; install it: sudo apt install -y python3-venv"

    # A usable environment is brought up to date in place, so that a folder that was moved in a
    # shop without network works again; anything else is made anew.
    clear=
    "$venv/bin/python" -c 'import pip' 2>/dev/null || clear=--clear
    case $clear-$kind in
        --clear-test) check_room 1200 ;;
        --clear-run) check_room 300 ;;
    esac
    say "Setting up benchmate, this once; it takes a minute or two."
    say "  1 of 3: a place of its own, $venv"
    system=
    if on_a_pi; then system=--system-site-packages; fi
    mkdir -p "$venv"
    # shellcheck disable=SC2086 # empty means no option
    made=$("$python" -m venv $clear $system "$venv" 2>&1) ||
        give_up "the folder $venv cannot be made; Python says: $(printf '%s' "$made" | tail -n 1)"
    rm -f "$stamp"
    : >"$log"
    export PIP_USER=0 PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_NO_INPUT=1
    say "  2 of 3: the packages that it needs ($(lock_for "$kind"))"
    step "$venv/bin/python" -m pip install --retries 2 --require-hashes --only-binary :all: \
        -r "$here/$(lock_for "$kind")"
    say "  3 of 3: benchmate itself"
    step "$venv/bin/python" -m pip install --no-deps --no-build-isolation --editable "$here"
    stamp_for "$kind" >"$stamp"
    if on_a_pi && ! "$venv/bin/python" -c 'import importlib.util as u, sys
sys.exit(u.find_spec("lgpio") is None)'; then
        say "The pins (buzzer, lights, foot switch) also want: sudo apt install -y python3-lgpio"
    fi
}

kind=run
if [ "${1-}" = test ]; then kind='test'; fi
trap 'say "setup: stopped; run the same command again to go on."; exit 130' INT
up_to_date "$kind" || { [ "$kind" = run ] && up_to_date test; } || install "$kind"
trap - INT

if [ "$kind" = test ]; then
    shift
    cd "$here"
    exec "$venv/bin/python" -m pytest "$@"
fi
# The folder that the person stands in is no place to import Python files from.
export PYTHONSAFEPATH=1
exec "$venv/bin/python" -m benchmate "$@"
