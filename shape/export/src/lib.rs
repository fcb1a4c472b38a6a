//! STEP, STL, 3MF, glTF, DXF and drawings: one file a format. Every writer is a pure function of its arguments: same body, same bytes.

mod brep;
mod drawing;
mod dxf;
mod error;
mod flat;
mod gltf;
mod slab;
mod step;
mod step_cut;
mod step_text;
mod stl;
mod threemf;

pub use drawing::{DrawnSize, MouldMarks, Scale, SizeKind, TitleBlock, drawing, section};
pub use dxf::dxf;
pub use error::{ExportError, NotExact};
pub use flat::{drawing_plate, dxf_plate, outline_plate};
pub use gltf::gltf;
pub use slab::step_plate;
pub use step::{Carried, Schema, StepHeader, carried, step};
pub use stl::stl;
pub use threemf::{Material, Placed, threemf};
