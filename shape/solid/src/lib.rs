//! Meridian and features to an exact body: volume, area, triangle mesh.
