"""What the user declares, checked, all faults told at once."""
