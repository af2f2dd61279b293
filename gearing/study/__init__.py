"""What the user declares: one TOML file, checked, all faults told at once."""

from gearing.study.files import log_files
from gearing.study.load import load_study, side_at
from gearing.study.model import Study
from gearing.study.sections import slug

__all__ = ["Study", "load_study", "log_files", "side_at", "slug"]
