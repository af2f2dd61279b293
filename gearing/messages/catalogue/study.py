"""What is told of the study file."""

from __future__ import annotations

from gearing.messages.template import Template

TEMPLATES: tuple[Template, ...] = ()
