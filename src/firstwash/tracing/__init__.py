"""The outline to trace: its lines in mm, as drawings, and cut over pages."""
