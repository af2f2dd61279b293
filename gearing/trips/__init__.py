"""Samples to motion, trips and road steps."""
