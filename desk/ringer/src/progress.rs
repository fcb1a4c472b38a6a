use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;
use std::time::Duration;

/// Says on standard error what is being done. Never writes to standard output.
pub struct Progress {
    bar: ProgressBar,
    plain_lines: bool,
}

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
        Progress { bar, plain_lines: told && !terminal }
    }

    /// A server has nobody to tell.
    pub fn silent() -> Self {
        Progress { bar: ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden()), plain_lines: false }
    }

    /// The next step begins.
    pub fn step(&self, text: &str) {
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
