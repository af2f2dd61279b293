"""What was given and gave nothing, and why."""
