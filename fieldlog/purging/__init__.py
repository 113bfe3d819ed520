"""People are forgotten, and what was kept long enough goes."""
