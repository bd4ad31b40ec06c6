"""Files of instruments: spectral reflectance of samples as CGATS.17 text and as CxF3 XML.

    read.read_measurements   bytes → samples on our grid, how they were measured, notes
    cgats.write_cgats        samples → bytes
    cxf.write_cxf            samples → bytes

Nothing here reads or writes files.
"""
