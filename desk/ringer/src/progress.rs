use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// Says what is being done: on standard error, or to whoever listens. Never writes to standard output.
pub struct Progress {
    bar: ProgressBar,
    plain_lines: bool,
    listener: Option<Listener>,
}

struct Listener {
    stop: Arc<AtomicBool>,
    hear: Box<dyn Fn(&str) + Send + Sync>,
}

/// What a make that was stopped unwinds with; see [`Progress::step`].
pub struct Stopped;

impl Progress {
    /// On a terminal a line that moves; elsewhere one line a step if `told`, else nothing.
    pub fn new(told: bool) -> Self {
        let terminal = std::io::stderr().is_terminal();
        let bar = if terminal { ProgressBar::new_spinner() } else { ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden()) };
        if let Ok(style) = ProgressStyle::with_template("{spinner} {elapsed:>4}  {msg}") {
            bar.set_style(style);
        }
        if terminal {
            bar.enable_steady_tick(Duration::from_millis(120));
        }
        Progress { bar, plain_lines: told && !terminal, listener: None }
    }

    /// Each step is told to `hear`. Once `stop` is true the next step does not begin: the make unwinds with [`Stopped`], and whoever
    /// called it under `catch_unwind` goes on.
    pub fn told_to(stop: Arc<AtomicBool>, hear: impl Fn(&str) + Send + Sync + 'static) -> Self {
        let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
        Progress { bar, plain_lines: false, listener: Some(Listener { stop, hear: Box::new(hear) }) }
    }

    /// The next step begins.
    pub fn step(&self, text: &str) {
        if let Some(listener) = &self.listener {
            if listener.stop.load(Ordering::Relaxed) {
                // Unwinding without a panic: nothing is printed, stations stay free of checks for being stopped.
                std::panic::resume_unwind(Box::new(Stopped));
            }
            (listener.hear)(text);
        }
        if self.plain_lines {
            eprintln!("  {text}");
        }
        self.bar.set_message(text.to_string());
    }

    /// All done: the moving line goes away.
    pub fn end(&self) {
        self.bar.finish_and_clear();
    }
}
