"""The picture: a photo in, its values, shapes and outline, and the sheet they are drawn for.

Pictures are float32 (rows, cols, 3) linear light in the sRGB primaries unless a
function says otherwise; sizes in pixels are (width, height), arrays (rows, cols).
"""
