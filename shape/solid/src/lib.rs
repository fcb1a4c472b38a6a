//! Meridian and features to an exact body: volume, area, wall, fit on a shaft, triangle mesh.
//!
//! A [`Body`] is one chain of lines, arcs and curves in the half plane, turned about the axis. Everything else (sizes, mesh, files) is worked
//! out from that chain.

mod body;
mod bore;
mod cut_volume;
pub mod edge;
mod error;
mod fit;
mod fit_test;
mod hole;
mod hollow;
mod lathe;
mod making;
mod mark;
mod measure;
pub mod path;
pub mod plane;
mod plate;
mod printing;
mod quad;
mod relief;
mod rim;
mod thread;
mod turner;
mod view;
mod wall;

pub use body::{Body, Feature, Limits};
pub use bore::{Bore, BoreEnd, BoreStep, COMMON_DRILL_POINT_DEG};
pub use error::SolidError;
pub use fit::{Feel, Fit, Hub, Process, bore_for_shaft};
pub use fit_test::FitTest;
pub use hole::CrossHole;
pub use hollow::Hollow;
pub use lathe::{DEFAULT_TRIANGLE_LIMIT, Mesh};
pub use making::{LEAST_DRAFT_DEG, Pull, Turning, TurningRow};
pub use mark::{Mark, MarkPlace};
pub use measure::{Swept, swept};
pub use plate::Plate;
pub use printing::{SELF_SUPPORTING_DEG, Stance};
pub use relief::{Form, Knurl, Relief, Surface};
pub use rim::Rim;
pub use thread::Thread;
pub use view::ViewMesh;
pub use wall::Wall;
