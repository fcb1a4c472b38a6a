//! STEP, STL, 3MF, glTF, DXF and drawings: one file a format.
