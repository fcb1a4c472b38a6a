//! Makes the sheet beside the server's own threads: the newest text first. A newer text, or the person, stops an older make between two
//! of its steps; the sheet made last stays in view until the next one is there.

use super::shown::Shown;
use crate::chain::{self, Memory};
use crate::progress::Progress;
use job::JobFolder;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::watch;

/// The maker of one desk.
pub(super) struct Worker {
    folder: JobFolder,
    /// What stations worked out before; held by the make that is going on.
    memory: Mutex<Memory>,
    state: Mutex<State>,
    /// For those who wait for the end of a make.
    ended: Condvar,
    /// A number that grows whenever there is something new to tell: a step begun, a make ended.
    news: watch::Sender<u64>,
}

#[derive(Default)]
struct State {
    going: Option<Going>,
    /// The text made last, and what came of it.
    last: Option<(String, Outcome)>,
    /// The last sheet that could be made.
    sheet: Option<Arc<Shown>>,
}

struct Going {
    text: String,
    step: String,
    stop: Arc<AtomicBool>,
}

#[derive(Clone)]
enum Outcome {
    Made,
    Failed(String),
    Stopped,
}

/// How the making of a text stands.
pub(super) struct View {
    /// The last sheet that could be made; of this very text unless something of what follows is said.
    pub shown: Option<Arc<Shown>>,
    /// What is wrong with the job, or went wrong; empty: nothing.
    pub trouble: String,
    /// What is being done for this text, while it is.
    pub working: Option<String>,
    /// Whether the person stopped the making of this text.
    pub stopped: bool,
}

impl Worker {
    pub(super) fn new(folder: JobFolder) -> Arc<Self> {
        Arc::new(Worker { folder, memory: Mutex::default(), state: Mutex::default(), ended: Condvar::new(), news: watch::channel(0).0 })
    }

    /// Waits at most `patience` for the sheet of `text`, whose making is begun if it was not.
    pub(super) fn view(self: &Arc<Self>, text: &str, patience: Duration) -> View {
        let until = Instant::now() + patience;
        self.begin(text);
        let mut state = self.state();
        while state.going.as_ref().is_some_and(|going| going.text == text) {
            let Some(left) = until.checked_duration_since(Instant::now()).filter(|left| !left.is_zero()) else { break };
            state = self.ended.wait_timeout(state, left).unwrap_or_else(PoisonError::into_inner).0;
        }
        let ended = state.last.as_ref().filter(|(made, _)| made == text).map(|(_, outcome)| outcome);
        View {
            shown: state.sheet.clone(),
            trouble: if let Some(Outcome::Failed(why)) = ended { why.clone() } else { String::new() },
            working: state.going.as_ref().filter(|going| going.text == text).map(|going| going.step.clone()),
            stopped: matches!(ended, Some(Outcome::Stopped)),
        }
    }

    /// Stops what is going on; the sheet made last stays.
    pub(super) fn stop(&self) {
        let mut state = self.state();
        if let Some(going) = state.going.take() {
            going.stop.store(true, Ordering::Relaxed);
            state.last = Some((going.text, Outcome::Stopped));
        }
        drop(state);
        self.tell();
    }

    /// Forgets that a text was stopped or failed, so that it is made anew.
    pub(super) fn again(&self) {
        self.state().last = None;
    }

    /// The step that is going on, if one is.
    pub(super) fn step(&self) -> Option<String> {
        self.state().going.as_ref().map(|going| going.step.clone())
    }

    /// For those who wait for something new.
    pub(super) fn hear(&self) -> watch::Receiver<u64> {
        self.news.subscribe()
    }

    /// Begins to make the sheet of `text`, unless it is made or being made.
    pub(super) fn begin(self: &Arc<Self>, text: &str) {
        let mut state = self.state();
        if state.going.as_ref().is_some_and(|going| going.text == text) || state.last.as_ref().is_some_and(|(last, _)| last == text) {
            return;
        }
        let stop = Arc::new(AtomicBool::new(false));
        let going = Going { text: text.into(), step: "reading the job".into(), stop: stop.clone() };
        if let Some(older) = state.going.replace(going) {
            older.stop.store(true, Ordering::Relaxed);
        }
        drop(state);
        self.tell();
        let (worker, text) = (self.clone(), text.to_string());
        std::thread::spawn(move || worker.make(&text, &stop));
    }

    fn make(self: Arc<Self>, text: &str, stop: &Arc<AtomicBool>) {
        let teller = self.clone();
        let mine = stop.clone();
        let progress = Progress::told_to(stop.clone(), move |step| teller.at(&mine, step));
        // The memory holds only whole values, so a make that ended in between leaves it as good as before.
        let mut memory = self.memory.lock().unwrap_or_else(PoisonError::into_inner);
        let before = self.state().sheet.clone();
        let ended = catch_unwind(AssertUnwindSafe(|| {
            chain::make_text(&self.folder, text, &mut memory, &progress).and_then(|made| Shown::new(made, before.as_deref()))
        }));
        drop(memory);
        if stop.load(Ordering::Relaxed) {
            return;
        }
        let mut state = self.state();
        let outcome = match ended {
            Ok(Ok(made)) => {
                state.sheet = Some(Arc::new(made));
                Outcome::Made
            }
            Ok(Err(failure)) => Outcome::Failed(failure.to_string()),
            Err(_) => Outcome::Failed("The program failed while it made the sheet; this is an error of ours. The job is untouched; undo the last change to go on.".into()),
        };
        state.last = Some((text.into(), outcome));
        state.going = None;
        drop(state);
        self.tell();
    }

    fn at(&self, stop: &Arc<AtomicBool>, step: &str) {
        let mut state = self.state();
        if let Some(going) = state.going.as_mut().filter(|going| Arc::ptr_eq(&going.stop, stop)) {
            going.step = step.into();
        }
        drop(state);
        self.tell();
    }

    fn tell(&self) {
        self.ended.notify_all();
        self.news.send_modify(|number| *number = number.wrapping_add(1));
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
