"""The planning problem: which paints, which puddles, where, in which order."""
