"""What a change of tire size did to a heavy vehicle, from before/after logs."""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("gearing")
except PackageNotFoundError:  # run from a source tree that is not installed
    __version__ = "0+unknown"
