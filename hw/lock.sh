#!/bin/sh
# Renew the locks: exact versions with hashes, one file for every platform and for Python 3.11 to
# 3.14. hw/requirements.lock is what benchmate needs, hw/requirements-browser.lock what --serve needs as well, hw/requirements-test.lock what its tests need
# as well, .ci/requirements.lock what .ci/run needs beyond that, .ci/audit.lock what .ci/audit needs.
# Needs uv (pip install uv) and the network.
set -eu
cd "$(dirname "$0")/.."
compile() {
    uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-annotate \
        --custom-compile-command "sh hw/lock.sh" "$@"
}
lock() {
    compile --extra dxf pyproject.toml "$@"
}
# The build's own tool comes from the lock as well, so that an installed checkout needs no network.
build=$(mktemp)
limits=$(mktemp)
trap 'rm -f "$build" "$limits"' EXIT
echo "setuptools>=77" >"$build"
# Without this the resolver pairs the newest docutils with a Sphinx of years ago.
echo "docutils<0.23" >"$limits"
lock "$build" --constraint "$limits" --extra test --extra lint --output-file .ci/requirements.lock "$@"
lock "$build" --constraint .ci/requirements.lock --extra test --output-file hw/requirements-test.lock "$@"
lock "$build" --constraint .ci/requirements.lock --output-file hw/requirements.lock "$@"
lock --extra browser --constraint hw/requirements.lock --output-file hw/requirements-browser.lock "$@"
echo "pip-audit>=2.9" | compile - --output-file .ci/audit.lock "$@"
