//! The demo job: our own scenario, with photographs made for it (see `cases/demo/SOURCE.md`).

use job::{JobError, JobFolder};

const DOCUMENT: &str = include_str!("../../../cases/demo/job.toml");
const PHOTOS: [(&str, &[u8]); 4] = [
    ("front.jpg", include_bytes!("../../../cases/demo/photos/front.jpg")),
    ("side.jpg", include_bytes!("../../../cases/demo/photos/side.jpg")),
    ("far.jpg", include_bytes!("../../../cases/demo/photos/far.jpg")),
    ("chips.jpg", include_bytes!("../../../cases/demo/photos/chips.jpg")),
];

/// Lays the demo job out in a folder without one.
///
/// # Errors
/// The folder holds a job; a disk that fails.
pub fn lay_out(folder: &JobFolder) -> Result<(), JobError> {
    let photos: Vec<(String, Vec<u8>)> = PHOTOS.iter().map(|(name, bytes)| (name.to_string(), bytes.to_vec())).collect();
    folder.start(DOCUMENT, &photos)
}

/// Whether the folder holds the demo job, changed or not.
pub fn is_in(folder: &JobFolder) -> bool {
    folder.document().is_ok_and(|document| DOCUMENT.contains(&format!("title = \"{}\"", document.title)))
}
