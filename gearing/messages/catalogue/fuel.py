"""What is told of the fuel comparison."""

from __future__ import annotations

from gearing.messages.template import Template

TEMPLATES: tuple[Template, ...] = ()
