"""Physics with no data frame in sight: tire, drivetrain, engine, road load, atmosphere."""
