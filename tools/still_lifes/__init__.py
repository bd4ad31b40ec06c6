"""Still lifes of our own with known truth: a small physically based renderer and its set-ups.

    from still_lifes.gallery import NAMES, KEPT_APART, rendered
    picture = rendered("white_jug")

Light is reckoned in three bands, the linear sRGB primaries: enough to judge the split into local
colour and light, not for spectra.
"""
