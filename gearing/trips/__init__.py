"""Samples -> motion, trips, road steps.

In order: `join` (files of one recording, duplicates), `split` (drives), `clock` (even clock),
`receiver` (true horizontal speed), `lag`, `rounding`, `grade`, `motion` (one trip),
`gear_clusters` (engine turns per metre), `quantization_cells` (what whole units of speed hide),
`steps` (100 m of road), `sums`, `record` (what is kept).
"""
