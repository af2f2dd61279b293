"""The batch: from a study file to its output folder, on one machine or many."""
