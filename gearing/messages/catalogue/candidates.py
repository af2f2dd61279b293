"""What is told of candidates: sizes and axles not bought yet."""

from __future__ import annotations

from gearing.messages.template import Template

TEMPLATES: tuple[Template, ...] = ()
