use super::{Failure, Memory};
use crate::progress::Progress;
use job::document::{Document, Pixel};
use job::{JobFolder, Problem, locate};
use photo::{Limits, Photo, Picture};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Everything read from the job folder, checked against itself.
pub struct Evidence {
    /// The document.
    pub document: Document,
    /// Its photos, decoded, in its order.
    pub photos: Vec<PhotoEvidence>,
    /// Text of each spectrum file that a sample names, by file.
    pub spectra: BTreeMap<String, String>,
    /// What the bench has learnt, from bench.toml beside the document, if it is there.
    pub bench: Option<check::Bench>,
    /// Colourants of earlier jobs, from shelf.toml beside the document, if it is there.
    pub shelf: Option<job::Shelf>,
}

/// A decoded photo.
pub struct PhotoEvidence {
    /// Place in `document.photo`.
    pub index: usize,
    /// Its file and the state of it: two photos of one key are the same picture.
    pub key: String,
    /// Its picture, upright, what the camera wrote down, what is doubtful about the file.
    pub photo: Arc<Photo>,
}

/// A spectrum file larger than this is none.
const MAX_SPECTRUM_BYTES: u64 = 1 << 20;

impl Evidence {
    /// Reads document, photos and spectra.
    ///
    /// # Errors
    /// All that is wrong, at once: files that are missing or broken, places outside a picture.
    pub fn gather(folder: &JobFolder, text: &str, memory: &mut Memory, progress: &Progress) -> Result<Self, Failure> {
        progress.step("reading the job");
        let document = job::read(text).map_err(|problems| Failure::Job(job::JobError::Document(problems)))?;
        let mut problems = Vec::new();
        let mut photos = Vec::new();
        memory.photos.room_for(document.photo.len());
        for (index, entry) in document.photo.iter().enumerate() {
            progress.step(&format!("{}: reading the photo", entry.name));
            match read_photo(folder, &entry.file, memory) {
                Err(problem) => problems.push(placed(problem, text, format!("photo[{index}].file"))),
                Ok((key, photo)) => {
                    problems.extend(places_outside(entry, index, &photo.picture).into_iter().map(|p| {
                        let key = p.key.clone();
                        placed(p, text, key)
                    }));
                    photos.push(PhotoEvidence { index, key, photo });
                }
            }
        }
        let mut spectra = BTreeMap::new();
        for (key, file) in spectrum_files(&document) {
            match folder.evidence(file, MAX_SPECTRUM_BYTES).map(String::from_utf8) {
                Ok(Ok(spectrum)) if spectrum.len() as u64 <= MAX_SPECTRUM_BYTES => drop(spectra.insert(file.to_string(), spectrum)),
                Ok(_) => {
                    let problem =
                        problem(file, "the spectrum is no text of at most 1 MiB", "give lines of nm, reflectance, or CGATS.17 text");
                    problems.push(placed(problem, text, key));
                }
                Err(problem) => problems.push(placed(problem, text, key)),
            }
        }
        let bench = read_beside(folder, BENCH, "the check station writes such lines; see docs/job-document.md").unwrap_or_else(|problem| {
            problems.push(problem);
            None
        });
        let shelf =
            read_beside(folder, SHELF, "make writes such lines to out/shelf.toml; see docs/job-document.md").unwrap_or_else(|problem| {
                problems.push(problem);
                None
            });
        if problems.is_empty() { Ok(Evidence { document, photos, spectra, bench, shelf }) } else { Err(Failure::Problems(problems)) }
    }

    /// The photo of that name.
    pub fn photo(&self, name: &str) -> Option<&PhotoEvidence> {
        self.photos.iter().find(|photo| self.document.photo[photo.index].name == name)
    }

    /// The document's entry of a photo.
    pub fn entry(&self, photo: &PhotoEvidence) -> &job::document::Photo {
        &self.document.photo[photo.index]
    }
}

/// Files of readings and chips, each with the key that names it.
fn spectrum_files(document: &Document) -> Vec<(String, &str)> {
    let readings =
        document.reading.iter().enumerate().filter_map(|(i, r)| Some((format!("reading[{i}].spectrum"), r.spectrum.as_deref()?)));
    let samples = document.sample.iter().enumerate().filter_map(|(i, s)| Some((format!("sample[{i}].spectrum"), s.spectrum.as_deref()?)));
    readings.chain(samples).collect()
}

const BENCH: &str = "bench.toml";
const SHELF: &str = "shelf.toml";

/// A file of the bench beside the document, if there is one.
fn read_beside<T: serde::de::DeserializeOwned>(folder: &JobFolder, file: &str, way_out: &str) -> Result<Option<T>, Problem> {
    if folder.stamp(file).is_none() {
        return Ok(None);
    }
    let bytes = folder.evidence(file, super::bench::MAX_BENCH_BYTES)?;
    if bytes.len() as u64 > super::bench::MAX_BENCH_BYTES {
        return Err(problem(file, "the file is larger than 1 MiB", "keep the records of the last years only"));
    }
    let text = String::from_utf8(bytes).map_err(|_| problem(file, "the file is no UTF-8 text", "save it as plain UTF-8"))?;
    toml::from_str(&text).map(Some).map_err(|error| {
        let line = error.span().map(|span| 1 + text.get(..span.start).map_or(0, |before| before.matches('\n').count()));
        Problem { place: line.map(|line| (line, 1)), ..problem(file, error.message(), way_out) }
    })
}

fn read_photo(folder: &JobFolder, file: &str, memory: &mut Memory) -> Result<(String, Arc<Photo>), Problem> {
    let limits = Limits::default();
    let stamp = folder.stamp(file);
    let read = || {
        let bytes = folder.evidence(file, limits.max_bytes as u64)?;
        photo::decode(&bytes, &limits).map_err(|e| problem(file, &e.to_string(), "give a whole JPEG or PNG picture as the camera wrote it"))
    };
    match stamp {
        Some(stamp) => {
            let key = format!("{file} {stamp}");
            memory.photos.try_get(key.clone(), read).map(|photo| (key, photo))
        }
        None => read().map(|photo| (file.to_string(), Arc::new(photo))),
    }
}

/// A click or corner outside its picture was made on another picture.
fn places_outside(entry: &job::document::Photo, index: usize, picture: &Picture) -> Vec<Problem> {
    let mut places: Vec<(String, &[Pixel])> = Vec::new();
    if let Some(axis) = &entry.axis {
        places.push((format!("photo[{index}].axis"), axis));
    }
    if let Some(outline) = &entry.outline {
        places.push((format!("photo[{index}].outline"), outline));
    }
    if let Some(region) = &entry.colour_region {
        places.push((format!("photo[{index}].colour_region"), region));
    }
    if let Some(neutral) = &entry.neutral {
        places.push((format!("photo[{index}].neutral.polygon"), &neutral.polygon));
    }
    for (j, patch) in entry.patch.iter().enumerate() {
        places.push((format!("photo[{index}].patch[{j}].polygon"), &patch.polygon));
    }
    let (width, height) = (picture.width_px() as f64, picture.height_px() as f64);
    let mut problems = Vec::new();
    for (key, points) in places {
        if let Some((i, p)) = points.iter().enumerate().find(|(_, p)| !(0.0..=width).contains(&p[0]) || !(0.0..=height).contains(&p[1])) {
            let text = format!("[{}, {}] lies outside the picture, which is {width} x {height} px", p[0], p[1]);
            problems.push(Problem {
                key: format!("{key}[{i}]"),
                ..problem("job.toml", &text, "give pixels of the upright picture; (0, 0) is its top left corner")
            });
        }
    }
    problems
}

fn problem(file: &str, text: &str, way_out: &str) -> Problem {
    Problem { file: file.into(), place: None, key: String::new(), text: text.into(), way_out: way_out.into() }
}

/// A problem that the document leads to gets the place in the document that does.
fn placed(problem: Problem, text: &str, key: String) -> Problem {
    if problem.file == "job.toml" {
        return Problem { place: locate(text, &key), key, ..problem };
    }
    let at = locate(text, &key).map_or(String::new(), |(line, column)| format!(", job.toml:{line}:{column}"));
    Problem { key: format!("{key}{at}"), ..problem }
}
