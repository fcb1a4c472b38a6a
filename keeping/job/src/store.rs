use crate::document::Document;
use crate::problem::{JobError, Problem};
use crate::read::{MAX_DOCUMENT_BYTES, read};
use std::fs;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// The few things saving asks of a disk, so that a test can fail each of them in turn.
pub trait Disk {
    /// Writes a new file and flushes it to the medium.
    fn write_flushed(&mut self, path: &Path, bytes: &[u8]) -> io::Result<()>;
    /// Length of a file.
    fn length(&mut self, path: &Path) -> io::Result<u64>;
    /// Puts one file in place of another, in one step.
    fn rename(&mut self, from: &Path, to: &Path) -> io::Result<()>;
    /// Flushes a folder's list of names.
    fn flush_folder(&mut self, folder: &Path) -> io::Result<()>;
    /// Removes a file.
    fn remove(&mut self, path: &Path) -> io::Result<()>;
}

/// The disk of this machine.
pub struct RealDisk;

impl Disk for RealDisk {
    fn write_flushed(&mut self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        let mut file = fs::File::create(path)?;
        file.write_all(bytes)?;
        file.sync_all()
    }

    fn length(&mut self, path: &Path) -> io::Result<u64> {
        Ok(fs::metadata(path)?.len())
    }

    fn rename(&mut self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }

    fn flush_folder(&mut self, folder: &Path) -> io::Result<()> {
        // Windows can't open a folder as a file; there the rename is already in the journal.
        if cfg!(unix) { fs::File::open(folder)?.sync_all() } else { Ok(()) }
    }

    fn remove(&mut self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)
    }
}

/// The same without waiting for the medium: for what may be lost to a power cut without harm. Whole all the same after a crash of the program.
pub struct UnflushedDisk;

impl Disk for UnflushedDisk {
    fn write_flushed(&mut self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        fs::write(path, bytes)
    }

    fn length(&mut self, path: &Path) -> io::Result<u64> {
        RealDisk.length(path)
    }

    fn rename(&mut self, from: &Path, to: &Path) -> io::Result<()> {
        RealDisk.rename(from, to)
    }

    fn flush_folder(&mut self, _: &Path) -> io::Result<()> {
        Ok(())
    }

    fn remove(&mut self, path: &Path) -> io::Result<()> {
        RealDisk.remove(path)
    }
}

/// Puts `bytes` at `path` so that a crash or a full disk at any moment leaves the old file or the new one, never a part: write
/// beside, flush, check the length, rename, flush the folder.
pub fn save_atomically(disk: &mut impl Disk, path: &Path, bytes: &[u8]) -> io::Result<()> {
    save_if(disk, path, bytes, || true).map(|_| ())
}

/// The same if `still` holds at the very last, when all that is left to do is the rename; false where it did not, and nothing was changed.
fn save_if(disk: &mut impl Disk, path: &Path, bytes: &[u8], still: impl FnOnce() -> bool) -> io::Result<bool> {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut beside = path.as_os_str().to_owned();
    beside.push(format!(".{}.tmp", std::process::id()));
    let beside = PathBuf::from(beside);
    let written = disk.write_flushed(&beside, bytes).and_then(|()| {
        if disk.length(&beside)? == bytes.len() as u64 {
            Ok(())
        } else {
            Err(io::Error::new(io::ErrorKind::WriteZero, "the file came out shorter than written"))
        }
    });
    if written.is_ok() && !still() {
        return disk.remove(&beside).map(|()| false);
    }
    if let Err(error) = written.and_then(|()| disk.rename(&beside, path)) {
        // What is left beside is rubbish; failing to remove it must not hide why saving failed.
        let _ = disk.remove(&beside);
        return Err(error);
    }
    disk.flush_folder(folder).map(|()| true)
}

/// A job's folder.
#[derive(Clone, Debug)]
pub struct JobFolder {
    root: PathBuf,
}

impl JobFolder {
    /// The folder at `root`; it need not exist yet.
    pub fn at(root: impl Into<PathBuf>) -> Self {
        JobFolder { root: root.into() }
    }

    /// Where it is.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// Starts a job: makes the folder, lays the photos in `photos/`, writes `job.toml` last. Refuses a folder that has a job.
    ///
    /// # Errors
    /// [`JobError::Disk`] with what was being done.
    pub fn start(&self, document: &str, photos: &[(String, Vec<u8>)]) -> Result<(), JobError> {
        let target = self.root.join("job.toml");
        if target.exists() {
            let source = io::Error::new(io::ErrorKind::AlreadyExists, "a job is here already");
            return Err(disk_error(&target, "starting a job", "choose another folder, or make the job that is there", source));
        }
        let folder = self.root.join("photos");
        fs::create_dir_all(&folder).map_err(|e| disk_error(&folder, "making the folder", "check the path and your rights to it", e))?;
        for (name, bytes) in photos {
            let path = folder.join(name);
            if path.exists() {
                let source = io::Error::new(io::ErrorKind::AlreadyExists, "a photo of this name is here already");
                return Err(disk_error(
                    &path,
                    "laying in a photo",
                    "photos are evidence and are never written over; use another folder",
                    source,
                ));
            }
            self.save(&path, bytes)?;
        }
        self.save(&target, document.as_bytes())
    }

    /// Lays one more photo into `photos/` and returns the name it got: its own, cleaned of what no file name should hold, with a number
    /// where that name is taken. Photos are evidence: none is ever written over.
    ///
    /// # Errors
    /// [`JobError::Disk`].
    pub fn add_photo(&self, file: &str, bytes: &[u8]) -> Result<String, JobError> {
        self.add_to("photos", file, bytes)
    }

    /// The same for a file of an instrument, into `readings/`.
    ///
    /// # Errors
    /// [`JobError::Disk`].
    pub fn add_reading(&self, file: &str, bytes: &[u8]) -> Result<String, JobError> {
        self.add_to("readings", file, bytes)
    }

    fn add_to(&self, place: &str, file: &str, bytes: &[u8]) -> Result<String, JobError> {
        let folder = self.root.join(place);
        fs::create_dir_all(&folder).map_err(|e| disk_error(&folder, "making the folder", "check the disk and your rights to it", e))?;
        let (stem, ending) = clean_name(file);
        let name = (1..)
            .map(|n| if n == 1 { format!("{stem}.{ending}") } else { format!("{stem}-{n}.{ending}") })
            .find(|name| !folder.join(name).exists());
        let name = name.unwrap_or_else(|| format!("{stem}.{ending}"));
        self.save(&folder.join(&name), bytes)?;
        Ok(name)
    }

    /// Reads and checks `job.toml`.
    ///
    /// # Errors
    /// [`JobError::Document`] with everything that is wrong in it; [`JobError::Disk`] where it can't be read.
    pub fn document(&self) -> Result<Document, JobError> {
        let text = self.document_text()?;
        read(&text).map_err(JobError::Document)
    }

    /// The text of `job.toml`.
    ///
    /// # Errors
    /// [`JobError::Disk`] where it can't be read; [`JobError::Document`] where it is no text.
    pub fn document_text(&self) -> Result<String, JobError> {
        let path = self.root.join("job.toml");
        let bytes = read_at_most(&path, MAX_DOCUMENT_BYTES as u64 + 1).map_err(|e| {
            disk_error(&path, "reading the job document", "is this a job folder? `ringer new DIR --photo FILE` starts one", e)
        })?;
        String::from_utf8(bytes).map_err(|_| {
            JobError::Document(vec![Problem {
                file: "job.toml".into(),
                place: None,
                key: String::new(),
                text: "the document is no UTF-8 text".into(),
                way_out: "save it as plain UTF-8".into(),
            }])
        })
    }

    /// Puts a new text in place of `job.toml`, atomically.
    ///
    /// # Errors
    /// [`JobError::Disk`]; the old text is then still there.
    pub fn replace_document(&self, text: &str) -> Result<(), JobError> {
        self.save(&self.root.join("job.toml"), text.as_bytes())
    }

    /// The same, if `job.toml` still holds `expected`; false where it holds something else by now, as when an editor has saved. It is looked at
    /// after the new text has reached the disk: between look and rename lie microseconds.
    ///
    /// # Errors
    /// [`JobError::Disk`]; the old text is then still there.
    pub fn replace_document_of(&self, expected: &str, text: &str) -> Result<bool, JobError> {
        let path = self.root.join("job.toml");
        let still = || fs::read(&path).is_ok_and(|now| now == expected.as_bytes());
        save_if(&mut RealDisk, &path, text.as_bytes(), still)
            .map_err(|e| disk_error(&path, "saving", "free some space and try again; the document is untouched", e))
    }

    /// Bytes of a file that the document names, at most `limit` of them and one more (so that the reader can tell "too large"). The file must be
    /// inside the job folder also after links are followed.
    ///
    /// # Errors
    /// A [`Problem`] with the file's name and the way out.
    pub fn evidence(&self, file: &str, limit: u64) -> Result<Vec<u8>, Problem> {
        let problem =
            |text: String, way_out: &str| Problem { file: file.into(), place: None, key: String::new(), text, way_out: way_out.into() };
        let path = self.root.join(file);
        let real = path
            .canonicalize()
            .map_err(|e| problem(format!("the file can't be opened: {e}"), "copy it into the job folder, or correct `file` in job.toml"))?;
        let root = self.root.canonicalize().map_err(|e| problem(format!("the job folder can't be opened: {e}"), "check the path"))?;
        if !real.starts_with(&root) {
            return Err(problem("the file lies outside the job folder".into(), "copy it into the folder: a job carries its evidence"));
        }
        if !real.is_file() {
            return Err(problem("this is no file".into(), "name a picture file"));
        }
        read_at_most(&real, limit.saturating_add(1))
            .map_err(|e| problem(format!("the file can't be read: {e}"), "check the disk and your rights to it"))
    }

    /// Length and time of change of a file that the document names: the same stamp, the same bytes (to the disk's resolution of time).
    pub fn stamp(&self, file: &str) -> Option<String> {
        let facts = fs::metadata(self.root.join(file)).ok()?;
        let changed = facts.modified().ok()?.duration_since(std::time::UNIX_EPOCH).ok()?;
        Some(format!("{} {}", facts.len(), changed.as_nanos()))
    }

    /// Writes one derived file under `out/`.
    ///
    /// # Errors
    /// [`JobError::Disk`].
    pub fn write_out(&self, name: &str, bytes: &[u8]) -> Result<(), JobError> {
        let folder = self.root.join("out");
        fs::create_dir_all(&folder).map_err(|e| disk_error(&folder, "making the folder", "check the disk and your rights to it", e))?;
        self.save(&folder.join(name), bytes)
    }

    /// Removes a derived file of an earlier make, if it is there.
    ///
    /// # Errors
    /// [`JobError::Disk`].
    pub fn clear_out(&self, name: &str) -> Result<(), JobError> {
        let path = self.root.join("out").join(name);
        match fs::remove_file(&path) {
            Err(e) if e.kind() != io::ErrorKind::NotFound => {
                Err(disk_error(&path, "removing an old result", "check your rights to the folder", e))
            }
            _ => Ok(()),
        }
    }

    fn save(&self, path: &Path, bytes: &[u8]) -> Result<(), JobError> {
        save_atomically(&mut RealDisk, path, bytes)
            .map_err(|e| disk_error(path, "saving", "free some space and try again; what was there before is untouched", e))
    }
}

/// Stem and ending of a file name, of plain characters only and of bounded length.
fn clean_name(file: &str) -> (String, String) {
    let last = file.rsplit(['/', '\\']).next().unwrap_or("");
    let (stem, ending) = last.rsplit_once('.').unwrap_or((last, "jpg"));
    let plain = |text: &str, most: usize| {
        text.chars().map(|c| if c.is_alphanumeric() || c == '-' || c == '_' { c } else { '-' }).take(most).collect::<String>()
    };
    let (stem, ending) = (plain(stem, 60), plain(ending, 5));
    (if stem.is_empty() { "photo".into() } else { stem }, if ending.is_empty() { "jpg".into() } else { ending })
}

pub(crate) fn read_at_most(path: &Path, limit: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    fs::File::open(path)?.take(limit).read_to_end(&mut bytes)?;
    Ok(bytes)
}

pub(crate) fn disk_error(path: &Path, doing: &'static str, way_out: &'static str, source: io::Error) -> JobError {
    JobError::Disk { path: path.to_path_buf(), doing, way_out, source }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    /// A disk in memory on which every call after the first `calls_left` fails; a failing write leaves half the bytes.
    struct FaultyDisk {
        files: BTreeMap<PathBuf, Vec<u8>>,
        calls_left: usize,
    }

    impl FaultyDisk {
        fn call(&mut self) -> io::Result<()> {
            if self.calls_left == 0 {
                return Err(io::Error::other("the disk failed"));
            }
            self.calls_left -= 1;
            Ok(())
        }
    }

    impl Disk for FaultyDisk {
        fn write_flushed(&mut self, path: &Path, bytes: &[u8]) -> io::Result<()> {
            let failed = self.call();
            let kept = if failed.is_err() { &bytes[..bytes.len() / 2] } else { bytes };
            self.files.insert(path.into(), kept.to_vec());
            failed
        }
        fn length(&mut self, path: &Path) -> io::Result<u64> {
            self.call()?;
            self.files.get(path).map(|b| b.len() as u64).ok_or_else(|| io::ErrorKind::NotFound.into())
        }
        fn rename(&mut self, from: &Path, to: &Path) -> io::Result<()> {
            self.call()?;
            let bytes = self.files.remove(from).ok_or(io::ErrorKind::NotFound)?;
            self.files.insert(to.into(), bytes);
            Ok(())
        }
        fn flush_folder(&mut self, _: &Path) -> io::Result<()> {
            self.call()
        }
        fn remove(&mut self, path: &Path) -> io::Result<()> {
            self.files.remove(path);
            Ok(())
        }
    }

    #[test]
    fn a_failing_disk_leaves_the_old_document_or_the_new_one() {
        let path = Path::new("job.toml");
        for calls_left in 0..10 {
            let mut disk = FaultyDisk { files: BTreeMap::from([(path.to_path_buf(), b"old".to_vec())]), calls_left };
            let saved = save_atomically(&mut disk, path, b"new and longer");
            let found = disk.files.get(path).map(Vec::as_slice);
            assert!(found == Some(b"old") || found == Some(b"new and longer"), "after {calls_left} calls: {found:?}");
            if calls_left < 3 {
                assert!(saved.is_err() && found == Some(b"old") && disk.files.len() == 1, "rubbish stays after {calls_left} calls");
            }
            if saved.is_ok() {
                assert_eq!(found, Some(b"new and longer".as_slice()));
                return;
            }
        }
        panic!("saving never succeeded");
    }
}
