#!/usr/bin/env bash
# The README's pictures of the desk, taken on a display of memory alone. Wants tools/check (it installs what this needs)
# and tools/try (it makes the dossier) to have run before.
set -euo pipefail
cd "$(dirname "$0")/../.."
cmake --build --preset release --target desk_pictures
xvfb-run -a -s "-screen 0 1600x1000x24" build/release/bin/desk_pictures build/try/hauler datasets/hauler
