"""What the program tells people: a message is a code with fields, its text made in one place."""

from gearing.messages.catalogue import CATALOGUE
from gearing.messages.display import places_of
from gearing.messages.fields import (
    Items,
    Measured,
    Moment,
    Position,
    Quantity,
    Span,
    UserText,
)
from gearing.messages.problems import (
    PROGRAM_FAULT,
    GearingError,
    MessageError,
    Problem,
    StudyWarning,
    message_of,
    problem_of,
    warning,
)
from gearing.messages.render import Message, Renderer, Text, message, names
from gearing.messages.template import Severity
from gearing.messages.told import field_of, told_of

__all__ = [
    "CATALOGUE",
    "PROGRAM_FAULT",
    "GearingError",
    "Items",
    "Measured",
    "Message",
    "MessageError",
    "Moment",
    "Position",
    "Problem",
    "Quantity",
    "Renderer",
    "Severity",
    "Span",
    "StudyWarning",
    "Text",
    "UserText",
    "field_of",
    "message",
    "message_of",
    "names",
    "places_of",
    "problem_of",
    "told_of",
    "warning",
]
