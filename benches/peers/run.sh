#!/bin/sh
# The comparison with other solvers: benches/peers/run.sh [--quick]
# Builds the project's worker, installs the pinned Python libraries into a virtual environment under the target
# directory, runs everything interleaved and writes benches/peers/table.md.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
cd "$here/../.."
cargo build --release --locked -p gomphosis-benches --bin peers
target=${CARGO_TARGET_DIR:-target}
work="$target/peers"
mkdir -p "$work"
if [ ! -x "$work/venv/bin/python" ]; then
    python3 -m venv "$work/venv"
fi
"$work/venv/bin/pip" install -q -r "$here/requirements.txt"
if ! "$work/venv/bin/python" -c 'import sksparse.cholmod' 2>/dev/null; then
    # Optional: without SuiteSparse's headers the table does without CHOLMOD and says so.
    "$work/venv/bin/pip" install -q -r "$here/requirements-cholmod.txt" ||
        echo "CHOLMOD is left out: scikit-sparse could not be built" >&2
fi
exec "$work/venv/bin/python" "$here/compare.py" --worker "$target/release/peers" --work "$work" "$@"
