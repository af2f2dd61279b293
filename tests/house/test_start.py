"""What a run where nothing changed need not load.

That a short command should not wait for libraries it does not use is common practice, no source.
"""

import subprocess
import sys

SCRIPT = "import sys, gearing.run.batch; print(sorted({'scipy', 'altair'} & set(sys.modules)))"


def test_starting_loads_no_numerical_library_of_the_findings() -> None:
    command = [sys.executable, "-c", SCRIPT]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
