"""The worksheet in a browser: served from the painter's own computer, and to nobody else."""
