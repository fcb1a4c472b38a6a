//! The program: commands, the chain of stations (document in, results out), and the live sheet's server.
//!
//! Exit status: 0 made; 1 the job has an error; 2 wrong usage (clap's own).

mod chain;
mod commands;
mod demo;
mod progress;
mod server;
mod summary;
mod tables;

use clap::{Parser, Subcommand};
use std::path::PathBuf;
use std::process::ExitCode;

/// Remakes small parts from photographs and one known size: true profile, round sizes, a body that fits, colour, recipe, run.
#[derive(Parser)]
#[command(name = "ringer", version, about, max_term_width = 100)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Start a job folder
    New {
        /// The folder; made if it is not there
        dir: PathBuf,
        /// A photograph to lay in; may be given many times
        #[arg(long, value_name = "FILE")]
        photo: Vec<PathBuf>,
    },
    /// Compute everything and write DIR/out/
    Make {
        /// The job folder
        dir: PathBuf,
        /// Print the result as one JSON object to standard output, and nothing else
        #[arg(long)]
        json: bool,
    },
    /// Show the job sheet in the browser, live
    Open {
        /// The job folder
        dir: PathBuf,
        /// Port on this machine; 0 takes a free one
        #[arg(long, default_value_t = 0, value_name = "N")]
        port: u16,
        /// Let other devices of the local network in, with the job's key
        #[arg(long)]
        lan: bool,
    },
    /// Lay out the demo job and make it
    Demo {
        /// The folder; must not hold another job
        #[arg(default_value = "ringer-demo")]
        dir: PathBuf,
    },
    /// Print the JSON Schema of the job document
    Schema,
    /// Look something up: fits, drills, threads, gauges, stock, fractions
    Tables {
        /// A table's name, a thread ("M6"), a fit ("H7/g6 25 mm") or a size ("7/8 in"); nothing lists the tables
        #[arg(allow_hyphen_values = true)]
        what: Vec<String>,
    },
}

fn main() -> ExitCode {
    let outcome = match Cli::parse().command {
        Command::New { dir, photo } => commands::new(&dir, &photo),
        Command::Make { dir, json } => commands::make(&dir, json),
        Command::Open { dir, port, lan } => server::open(&dir, port, lan),
        Command::Demo { dir } => commands::demo(&dir),
        Command::Schema => commands::print(&job::schema()),
        Command::Tables { what } => tables::answer(&what).and_then(|text| commands::print(&text)),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(1)
        }
    }
}
