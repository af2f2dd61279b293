"""What the user declares: one TOML file, checked, all faults told at once."""

from gearing.study.files import log_files
from gearing.study.load import load_study, side_at, slug
from gearing.study.model import Study

__all__ = ["Study", "load_study", "log_files", "side_at", "slug"]
