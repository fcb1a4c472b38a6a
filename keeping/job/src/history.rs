//! Every version that the document had, so that undo is one key, also after a restart.
//!
//! `history/` in the job folder holds the versions as `000001.toml`, `000002.toml` ... and `at`, the number of the one in force. A file
//! that is there is never changed; a change made after an undo drops the versions that were undone. `history/` may be deleted: then there
//! is nothing to undo, and the document stays.

use crate::problem::JobError;
use crate::read::MAX_DOCUMENT_BYTES;
use crate::store::{Disk, JobFolder, RealDisk, UnflushedDisk, disk_error, read_at_most, save_atomically};
use std::fs;
use std::path::PathBuf;

/// The oldest versions beyond this many are dropped.
const KEPT: u32 = 1000;

/// The versions of one job's document.
pub struct History {
    folder: JobFolder,
}

/// Where the document stands in its history.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Standing {
    /// Whether there is an older version to go back to.
    pub can_undo: bool,
    /// Whether an undone version is still there.
    pub can_redo: bool,
}

impl History {
    /// The history of the job in `folder`.
    pub fn of(folder: &JobFolder) -> Self {
        History { folder: folder.clone() }
    }

    /// Puts `text` in force as the newest version. What stood in `job.toml` is kept as a version first, also when it was edited outside.
    ///
    /// # Errors
    /// [`JobError::Disk`]; the document is then the old one or the new one, whole.
    pub fn put(&self, text: &str) -> Result<(), JobError> {
        while !self.put_on(&self.folder.document_text()?, text)? {}
        Ok(())
    }

    /// Puts `text`, which was made from `base`, in force as the newest version; false, and nothing is in force, where `job.toml` does not hold `base`
    /// any more: somebody saved meanwhile, and `text` would take that away.
    ///
    /// # Errors
    /// As [`History::put`].
    pub fn put_on(&self, base: &str, text: &str) -> Result<bool, JobError> {
        let (mut at, now) = self.catch_up()?;
        if now != base {
            return Ok(false);
        }
        for undone in self.numbers()?.into_iter().filter(|n| *n > at) {
            self.drop_version(undone)?;
        }
        // What is in force must be on the medium as a version before something else takes its place. The new version itself need not: its text is that
        // of job.toml, and without it that counts as edited outside. Nor need the pointer, for the same reason.
        self.flush()?;
        at += 1;
        self.note(&self.version(at), text)?;
        if !self.folder.replace_document_of(base, text)? {
            self.drop_version(at)?;
            return Ok(false);
        }
        self.note(&self.pointer(), &at.to_string())?;
        for old in self.numbers()?.into_iter().filter(|n| n + KEPT <= at) {
            self.drop_version(old)?;
        }
        Ok(true)
    }

    /// Puts the version before the one in force back in force. False where there is none.
    ///
    /// # Errors
    /// [`JobError::Disk`].
    pub fn undo(&self) -> Result<bool, JobError> {
        self.go(|numbers, at| numbers.filter(|n| *n < at).max())
    }

    /// Puts the version that was undone last back in force. False where there is none.
    ///
    /// # Errors
    /// [`JobError::Disk`].
    pub fn redo(&self) -> Result<bool, JobError> {
        self.go(|numbers, at| numbers.filter(|n| *n > at).min())
    }

    /// Brings the version in force to the medium, so that a power cut can't take it. Every change does so before it is made; done between two
    /// changes, the next one need not wait for it.
    ///
    /// # Errors
    /// [`JobError::Disk`].
    pub fn flush(&self) -> Result<(), JobError> {
        let (path, root) = (self.version(self.at()), self.root());
        let flushed = match fs::File::open(&path) {
            Ok(file) => file.sync_all().and_then(|()| RealDisk.flush_folder(&root)),
            // No version yet: nothing to lose.
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(()),
            Err(e) => Err(e),
        };
        flushed.map_err(|e| disk_error(&path, "saving", "check the disk; the document is untouched", e))
    }

    /// What can be undone and redone.
    ///
    /// # Errors
    /// [`JobError::Disk`].
    pub fn standing(&self) -> Result<Standing, JobError> {
        let (numbers, at, now) = (self.numbers()?, self.at(), self.folder.document_text()?);
        // An outside edit is itself a step that can be undone, and it ends what could be redone.
        let outside = self.text(at).is_some_and(|text| text != now);
        Ok(Standing { can_undo: outside || numbers.iter().any(|n| *n < at), can_redo: !outside && numbers.iter().any(|n| *n > at) })
    }

    /// Puts the version in force that `which` picks from all there are and the one in force.
    fn go(&self, which: impl Fn(std::vec::IntoIter<u32>, u32) -> Option<u32>) -> Result<bool, JobError> {
        loop {
            let (at, now) = self.catch_up()?;
            let Some((number, text)) = which(self.whole()?.into_iter(), at).and_then(|number| Some((number, self.text(number)?))) else {
                return Ok(false);
            };
            self.flush()?;
            // The pointer goes first: if we stop in between, the document differs from it and counts as edited outside; nothing is lost.
            self.note(&self.pointer(), &number.to_string())?;
            if self.folder.replace_document_of(&now, &text)? {
                return Ok(true);
            }
            // Somebody saved meanwhile: that is a version, too, and the one to go from.
            self.save(&self.pointer(), &at.to_string())?;
        }
    }

    /// Makes the document on disk a version if it is none yet; returns the number in force, and its text.
    fn catch_up(&self) -> Result<(u32, String), JobError> {
        let root = self.root();
        fs::create_dir_all(&root).map_err(|e| disk_error(&root, "making the folder", "check the disk and your rights to it", e))?;
        let (at, now) = (self.at(), self.folder.document_text()?);
        if self.text(at).as_deref() == Some(&now) {
            return Ok((at, now));
        }
        for undone in self.numbers()?.into_iter().filter(|n| *n > at) {
            self.drop_version(undone)?;
        }
        self.save(&self.version(at + 1), &now)?;
        self.save(&self.pointer(), &(at + 1).to_string())?;
        Ok((at + 1, now))
    }

    fn at(&self) -> u32 {
        let newest = || self.numbers().unwrap_or_default().into_iter().max().unwrap_or(0);
        fs::read_to_string(self.pointer()).ok().and_then(|text| text.trim().parse().ok()).unwrap_or_else(newest)
    }

    fn numbers(&self) -> Result<Vec<u32>, JobError> {
        let root = self.root();
        let entries = match fs::read_dir(&root) {
            Ok(entries) => entries,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(e) => return Err(disk_error(&root, "reading the history", "check your rights to the folder", e)),
        };
        let mut numbers: Vec<u32> =
            entries.filter_map(|entry| entry.ok()?.file_name().to_str()?.strip_suffix(".toml")?.parse().ok()).collect();
        numbers.sort_unstable();
        Ok(numbers)
    }

    /// Versions to go to: one that a power cut left empty is none.
    fn whole(&self) -> Result<Vec<u32>, JobError> {
        let is_whole = |n: &u32| fs::metadata(self.version(*n)).is_ok_and(|facts| facts.len() > 0);
        Ok(self.numbers()?.into_iter().filter(is_whole).collect())
    }

    fn text(&self, number: u32) -> Option<String> {
        String::from_utf8(read_at_most(&self.version(number), MAX_DOCUMENT_BYTES as u64 + 1).ok()?).ok()
    }

    fn drop_version(&self, number: u32) -> Result<(), JobError> {
        let path = self.version(number);
        fs::remove_file(&path).map_err(|e| disk_error(&path, "dropping an old version", "check your rights to the folder", e))
    }

    fn save(&self, path: &std::path::Path, text: &str) -> Result<(), JobError> {
        save_atomically(&mut RealDisk, path, text.as_bytes())
            .map_err(|e| disk_error(path, "saving", "free some space and try again; the document is untouched", e))
    }

    /// The same without waiting for the medium.
    fn note(&self, path: &std::path::Path, text: &str) -> Result<(), JobError> {
        save_atomically(&mut UnflushedDisk, path, text.as_bytes())
            .map_err(|e| disk_error(path, "saving", "free some space and try again; the document is untouched", e))
    }

    fn root(&self) -> PathBuf {
        self.folder.root().join("history")
    }

    fn version(&self, number: u32) -> PathBuf {
        self.root().join(format!("{number:06}.toml"))
    }

    fn pointer(&self) -> PathBuf {
        self.root().join("at")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Scratch(PathBuf);

    impl Scratch {
        fn new(name: &str) -> Self {
            let path = std::env::temp_dir().join(format!("ringer-history-{name}-{}", std::process::id()));
            let _ = fs::remove_dir_all(&path);
            fs::create_dir_all(&path).expect("a folder");
            fs::write(path.join("job.toml"), "one").expect("written");
            Scratch(path)
        }
        fn now(&self) -> String {
            fs::read_to_string(self.0.join("job.toml")).expect("a document")
        }
    }

    impl Drop for Scratch {
        fn drop(&mut self) {
            let _ = fs::remove_dir_all(&self.0);
        }
    }

    #[test]
    fn undo_and_redo_hold_over_restarts() {
        let scratch = Scratch::new("restart");
        // A new History each time is a restart.
        let history = || History::of(&JobFolder::at(&scratch.0));
        assert!(!history().undo().expect("works"));
        for text in ["two", "three"] {
            history().put(text).expect("put");
        }
        assert!(history().undo().expect("works") && scratch.now() == "two");
        assert!(history().undo().expect("works") && scratch.now() == "one");
        assert_eq!(history().standing().expect("works"), Standing { can_undo: false, can_redo: true });
        assert!(history().redo().expect("works") && scratch.now() == "two");
        history().put("four").expect("put");
        assert_eq!(history().standing().expect("works"), Standing { can_undo: true, can_redo: false });
        assert!(history().undo().expect("works") && scratch.now() == "two");
    }

    #[test]
    fn what_was_saved_meanwhile_is_not_written_over() {
        let scratch = Scratch::new("meanwhile");
        let folder = JobFolder::at(&scratch.0);
        let history = History::of(&folder);
        history.put("two").expect("put");
        fs::write(scratch.0.join("job.toml"), "by hand").expect("written");
        assert!(!history.put_on("two", "two and more").expect("told") && scratch.now() == "by hand");
        assert!(!folder.replace_document_of("two", "two and more").expect("told") && scratch.now() == "by hand");
        assert!(history.put_on("by hand", "by hand and more").expect("put") && scratch.now() == "by hand and more");
        assert!(history.undo().expect("works") && scratch.now() == "by hand");
        let left: Vec<_> =
            fs::read_dir(&scratch.0).expect("a folder").filter_map(|entry| entry.ok()?.file_name().into_string().ok()).collect();
        assert!(!left.iter().any(|name| name.ends_with(".tmp")), "{left:?}");
    }

    #[test]
    fn an_edit_outside_is_a_version_too() {
        let scratch = Scratch::new("outside");
        let history = History::of(&JobFolder::at(&scratch.0));
        history.put("two").expect("put");
        fs::write(scratch.0.join("job.toml"), "by hand").expect("written");
        assert!(history.standing().expect("works").can_undo);
        history.put("three").expect("put");
        assert!(history.undo().expect("works") && scratch.now() == "by hand");
        assert!(history.undo().expect("works") && scratch.now() == "two");
    }
}
