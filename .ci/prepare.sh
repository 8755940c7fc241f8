# Shared by .ci/demo and .ci/test: the folder, the steps, Python, Debian packages and the environment.
# POSIX sh; sourced, after `set -eu`, with $0 being one of these two.

cd -- "$(dirname -- "$0")/.."
unset PYTHONPATH PYTHONHOME
STEP="starting"
trap 'code=$?; [ "$code" -eq 0 ] || echo "$0: stopped while $STEP (code $code)" >&2' EXIT

step() {
    STEP=$1
    printf '== %s\n' "$STEP"
}

stop() {
    printf '%s: %s\n' "$0" "$1" >&2
    exit 1
}

as_root() {
    if [ "$(id -u)" -eq 0 ]; then
        "$@"
    elif command -v sudo >/dev/null; then
        sudo "$@"
    else
        stop "this needs to run as root: $*"
    fi
}

# debian_packages NAME...: install them, or say what to do where there is no apt-get.
debian_packages() {
    command -v apt-get >/dev/null ||
        stop "missing, and there is no apt-get here: $*; install what is named and try again"
    step "installing Debian packages: $*"
    as_root apt-get update -q
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends "$@"
}

# needs_commands NAME...: commands that are called as their Debian packages are, installed where missing.
needs_commands() {
    for COMMAND in "$@"; do
        shift
        command -v "$COMMAND" >/dev/null || set -- "$@" "$COMMAND"
    done
    [ "$#" -eq 0 ] || debian_packages "$@"
}

new_enough() {
    "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null
}

# The pinned versions are proved on Python 3.11, so it comes first where several are installed.
find_python() {
    for PYTHON in python3.11 python3 /usr/bin/python3 python3.12 python3.13; do
        if command -v "$PYTHON" >/dev/null && new_enough "$PYTHON"; then
            return
        fi
    done
    stop "towzone needs Python 3.11 or newer; found $(python3 --version 2>/dev/null || echo 'no python3')"
}

# An environment left half made, or made by a Python that is gone, is made anew.
environment() {
    if new_enough .venv/bin/python && .venv/bin/python -m pip --version >/dev/null 2>&1; then
        return
    fi
    find_python
    "$PYTHON" -c 'import ensurepip, venv' 2>/dev/null || debian_packages python3-venv
    step "making the environment .venv with $("$PYTHON" --version)"
    "$PYTHON" -m venv --clear .venv
}

# pip_install ARGUMENT...: into .venv, at the pinned versions.
pip_install() {
    .venv/bin/python -m pip install --quiet --disable-pip-version-check -c .ci/constraints.txt "$@"
}

# The build tool is pinned too, hence no build of its own environment by pip.
# Its note on editable installs says nothing a reader of this output needs.
install_towzone() {
    environment
    step "installing towzone with its coast and what fleets need"
    pip_install pip setuptools
    PYTHONWARNINGS=ignore pip_install --no-build-isolation --editable '.[coast,fleet]' "$@"
}
