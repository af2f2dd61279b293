"""Before anything is bought: sizes and axle ratios side by side."""
