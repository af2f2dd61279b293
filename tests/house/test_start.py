"""What a run where nothing changed need not load.

That a short command should not wait for libraries it does not use is common practice, no source.
"""

import subprocess
import sys

SLOW = {"polars", "numpy", "pyarrow", "scipy", "altair"}
SCRIPT = f"import sys, gearing.run.batch; print(sorted({SLOW} & set(sys.modules)))"


def test_starting_loads_no_library_of_frames_arrays_or_charts() -> None:
    command = [sys.executable, "-c", SCRIPT]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
