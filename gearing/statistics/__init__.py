"""Intervals, comparison, power: no vehicle in sight."""
