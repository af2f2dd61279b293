"""What is told of reading logs and the files beside them."""

from __future__ import annotations

from gearing.messages.template import Template

TEMPLATES: tuple[Template, ...] = ()
