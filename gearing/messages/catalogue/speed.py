"""What is told of speed, distance, tires, axle, gears and computer."""

from __future__ import annotations

from gearing.messages.template import Template

TEMPLATES: tuple[Template, ...] = ()
