"""A photo studied before it is painted: values, light, local colour, and what to lay first."""
