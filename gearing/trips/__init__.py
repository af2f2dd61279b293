"""Samples -> motion, trips, road steps.

In order: `join` (files of one recording, duplicates), `clock` (even clock), `receiver` (true
horizontal speed), `lag`, `rounding`, `grade`, `motion` (one trip), `comb` (engine turns per
metre), `steps` (100 m of road), `sums`, `record` (what is kept), `table` (one row a trip).
"""
