"""What the catalogue has for reading logs: templates of problems, and the title of each code."""

from __future__ import annotations

from gearing.messages.catalogue import log_questions, log_repairs, logs
from gearing.messages.render import METRIC, Message

PROBLEMS = tuple(
    one
    for group in (logs.TEMPLATES, log_repairs.TEMPLATES, log_questions.TEMPLATES)
    for one in group
    if one.severity is not None
)
TITLES = {
    one.code.partition("/")[0]: METRIC.title(Message(one.code, tuple(one.example.items())))
    for one in PROBLEMS
}
