# Makes a virtual environment and installs the package into it. Sourced by the scripts beside it.
# Use: make_environment DIRECTORY EXTRAS

make_environment() {
    local where=$1 extras=$2 stamp wanted
    stamp=$where/installed-from
    wanted=$(cksum pyproject.toml)$extras
    if [ -x "$where/bin/python" ] && [ "$(cat "$stamp" 2>/dev/null)" = "$wanted" ]; then
        return
    fi
    local python=${PYTHON:-python3}
    "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' || {
        echo "fieldgeo needs Python 3.11 or newer; $python is $("$python" --version 2>&1). Set PYTHON to a newer one." >&2
        return 1
    }
    echo "Making an environment in $where ..." >&2
    rm -rf "$where"
    "$python" -m venv "$where"
    "$where/bin/python" -m pip install --quiet --disable-pip-version-check --editable ".$extras"
    printf '%s' "$wanted" > "$stamp"
}
