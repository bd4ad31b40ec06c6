"""Paints: what each looks like in any strength and over any ground, and how it handles."""
