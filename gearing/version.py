"""The program's version, as it is installed."""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("gearing")
except PackageNotFoundError:  # run from a source tree that is not installed
    __version__ = "0+unknown"
