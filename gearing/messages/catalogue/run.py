"""What is told of the run as a whole."""

from __future__ import annotations

from gearing.messages.template import Template

TEMPLATES: tuple[Template, ...] = ()
