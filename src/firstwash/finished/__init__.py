"""A finished painting: its photo squared and evenly lit, its catalogue line, its label."""
