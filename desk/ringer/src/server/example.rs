//! What an empty folder shows below the question what is to be made: the sheet of the demo job, as an example. It is made beside the person's folder,
//! which stays empty, and what was laid out for it is taken away again.

use super::shown::Shown;
use crate::chain::{self, Failure};
use crate::demo;
use crate::progress::Progress;
use job::JobFolder;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

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
    let root = std::env::temp_dir().join(format!("ringer-example-{}", std::process::id()));
    // What a killed program of the same number left behind is in the way.
    drop(Away(root.clone()));
    let away = Away(root.clone());
    let folder = JobFolder::at(&root);
    demo::lay_out(&folder)?;
    let made = chain::make(&folder, &Progress::told_to(stop.clone(), |_| {}))?;
    drop(away);
    Shown::new(made, None)
}

/// Takes the laid-out example away, however its making ends.
struct Away(std::path::PathBuf);

impl Drop for Away {
    fn drop(&mut self) {
        // What can't be taken away lies in the system's folder for such things.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}
