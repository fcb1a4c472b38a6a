"""STEP files as OpenCASCADE reads them: what every second opinion on solids asks first."""
from typing import NamedTuple

from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.IFSelect import IFSelect_RetDone
from OCP.STEPControl import STEPControl_Reader
from OCP.TopAbs import TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer


class Read(NamedTuple):
    """A file's shape (None where it could not be read), whether it is one valid solid, and what was found in words."""

    shape: object
    good: bool
    words: str


def one_valid_solid(path):
    """Reads a file and says whether it holds one solid that BRepCheck finds valid."""
    reader = STEPControl_Reader()
    if reader.ReadFile(str(path)) != IFSelect_RetDone or reader.TransferRoots() < 1:
        return Read(None, False, "refused")
    shape = reader.OneShape()
    solids = count(shape, TopAbs_SOLID)
    valid = BRepCheck_Analyzer(shape).IsValid()
    return Read(shape, solids == 1 and valid, f"{solids} solid, {'valid' if valid else 'not valid'}")


def count(shape, kind):
    walk, found = TopExp_Explorer(shape, kind), 0
    while walk.More():
        found += 1
        walk.Next()
    return found


def volume_mm3(shape, tolerance=1e-9):
    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, props, tolerance, False, False)
    return props.Mass()


def area_mm2(shape, tolerance=1e-9):
    props = GProp_GProps()
    BRepGProp.SurfaceProperties_s(shape, props, tolerance, False)
    return props.Mass()
