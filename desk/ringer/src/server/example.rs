//! What an empty folder shows below the question what is to be made: the sheet of the demo job, as an example. It is made beside the person's folder,
//! which stays empty, and what was laid out for it is taken away again.

use super::shown::Shown;
use crate::chain::{self, Failure};
use crate::demo;
use crate::progress::Progress;
use job::JobFolder;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

/// The example, made when it is first looked at.
#[derive(Default)]
pub(super) struct Example {
    state: Arc<Mutex<State>>,
    stop: Arc<AtomicBool>,
}

#[derive(Default)]
enum State {
    #[default]
    Unbegun,
    Coming,
    Here(Arc<Shown>),
    /// It could not be made, or is not wanted any more: the page does without it.
    Gone,
}

impl Example {
    /// The example as far as it is made, and whether it is coming.
    pub fn look(&self) -> (Option<Arc<Shown>>, bool) {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        if matches!(*state, State::Unbegun) {
            *state = State::Coming;
            let (mine, stop) = (self.state.clone(), self.stop.clone());
            std::thread::spawn(move || {
                let made = catch_unwind(AssertUnwindSafe(|| made(&stop)));
                let outcome = match made {
                    Ok(Ok(shown)) => State::Here(Arc::new(shown)),
                    _ => State::Gone,
                };
                *mine.lock().unwrap_or_else(PoisonError::into_inner) = outcome;
            });
        }
        match &*state {
            State::Here(shown) => (Some(shown.clone()), false),
            State::Coming => (None, true),
            State::Unbegun | State::Gone => (None, false),
        }
    }

    /// There is a job of the person's own: the example is not wanted any more.
    pub fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

fn made(stop: &Arc<AtomicBool>) -> Result<Shown, Failure> {
    let temporary = std::env::temp_dir();
    sweep(&temporary);
    let away = Away(own_folder(&temporary)?);
    let folder = JobFolder::at(&away.0);
    demo::lay_out(&folder)?;
    let made = chain::make(&folder, &Progress::told_to(stop.clone(), |_| {}))?;
    drop(away);
    Shown::new(made, None)
}

/// Names of our folders begin so.
const NAME: &str = "ringer-example-";
/// A making takes seconds; a folder this old was left behind by a program that was killed.
const STALE: Duration = Duration::from_secs(15 * 60);

/// A new folder that nobody else can have laid there, or look into.
fn own_folder(temporary: &Path) -> Result<PathBuf, Failure> {
    let mut bytes = [0u8; 8];
    getrandom::fill(&mut bytes).map_err(|e| Failure::Ours(format!("error: the system gave no randomness: {e}")))?;
    let root = temporary.join(format!("{NAME}{}", bytes.iter().map(|b| format!("{b:02x}")).collect::<String>()));
    let mut builder = std::fs::DirBuilder::new();
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(&root).map_err(|e| Failure::Ours(format!("error: making {}: {e}", root.display())))?;
    Ok(root)
}

/// Takes away what killed programs left behind. What can't be taken away is another person's.
fn sweep(temporary: &Path) {
    let Ok(entries) = std::fs::read_dir(temporary) else { return };
    for entry in entries.flatten().filter(|entry| entry.file_name().to_string_lossy().starts_with(NAME)) {
        let old = entry.metadata().ok().filter(|facts| facts.is_dir()).and_then(|facts| facts.modified().ok()?.elapsed().ok());
        if old.is_some_and(|age| age > STALE) {
            let _ = std::fs::remove_dir_all(entry.path());
        }
    }
}

/// Takes the laid-out example away, however its making ends.
struct Away(PathBuf);

impl Drop for Away {
    fn drop(&mut self) {
        // What can't be taken away lies in the system's folder for such things.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;
    use std::time::SystemTime;

    #[test]
    fn what_a_killed_program_left_is_swept_and_nothing_else() {
        let temporary = own_folder(&std::env::temp_dir()).expect("a folder");
        let _away = Away(temporary.clone());
        let [stale, fresh, other] = ["ringer-example-1234", "ringer-example-5678", "another"].map(|name| temporary.join(name));
        for folder in [&stale, &fresh, &other] {
            fs::create_dir(folder).expect("made");
        }
        fs::write(stale.join("job.toml"), "left").expect("written");
        for folder in [&stale, &other] {
            let file = fs::File::open(folder).expect("open");
            file.set_modified(SystemTime::now() - 2 * STALE).expect("aged");
        }
        sweep(&temporary);
        assert!(!stale.exists() && fresh.exists() && other.exists());
    }
}
