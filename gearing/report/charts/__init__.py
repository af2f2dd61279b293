"""The charts of the page, one subject a module."""
