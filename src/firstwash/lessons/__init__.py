"""Lessons for painters, made by the program from its own prediction and the painter's paints."""
