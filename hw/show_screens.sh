#!/bin/sh
# Play a rehearsed job in tmux at four sizes and keep what the screen showed, for anyone to look at.
#
#   sh hw/show_screens.sh [FOLDER]      FOLDER: where the captures go (screens/)
#
# Each capture is two files: plain text, and .ansi with the colours (cat shows it in a terminal of that size).
# Needs tmux and an environment made by "sh hw/setup.sh test"; PYTHON names another Python.
set -eu
here=$(cd "$(dirname "$0")/.." && pwd)
command -v tmux >/dev/null || {
    echo "tmux isn't here: sudo apt install -y tmux" >&2
    exit 1
}
python=${PYTHON:-$here/.venv/bin/python}
out=${1:-screens}
mkdir -p "$out"
out=$(cd "$out" && pwd)
home=$(mktemp -d)
server=benchmate-screens-$$
trap 'tmux -L "$server" kill-server 2>/dev/null || true; rm -rf "$home"' EXIT INT TERM

keep() {
    tmux -L "$server" capture-pane -t "$1" -p >"$out/$1-$2.txt"
    tmux -L "$server" capture-pane -t "$1" -pe >"$out/$1-$2.ansi"
}

play() {
    size=$1 columns=${1%x*} rows=${1#*x}
    tmux -L "$server" -f /dev/null new-session -d -s "$size" -x "$columns" -y "$rows" \
        env HOME="$home" XDG_RUNTIME_DIR= XDG_STATE_HOME= XDG_DATA_HOME= XDG_CONFIG_HOME= \
        PYTHONPATH="$here" "$python" -P -m benchmate --store "$home/$size.db" demo
    number=0 before=
    while [ "$number" -lt 150 ] && tmux -L "$server" has-session -t "$size" 2>/dev/null; do
        # What Enter does, or what asks for an act, tells one moment from the next.
        now=$(tmux -L "$server" capture-pane -t "$size" -p | tail -n 1) || break
        if [ "$now" != "$before" ] || [ $((number % 15)) -eq 0 ]; then
            keep "$size" "$(printf %03d "$number")" 2>/dev/null || break
            before=$now
        fi
        number=$((number + 1))
        case $now in *understood*) tmux -L "$server" send-keys -t "$size" Enter ;; esac
        sleep 1
    done
}

for size in 50x15 80x24 100x30 160x50; do
    play "$size"
    tmux -L "$server" kill-session -t "$size" 2>/dev/null || true
done
echo "$(find "$out" -name '*.txt' | wc -l) captures in $out"
