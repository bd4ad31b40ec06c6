"""Optics of paint on paper: spectra, layers, interfaces, observers, colour differences.

Spectra are sampled on one grid (`grid.WAVELENGTHS_NM`); reflectance and transmittance
are fractions in [0, 1]; XYZ is scaled so that the perfect white has Y = 1.
"""
