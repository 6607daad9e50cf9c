//! The arguments that every question has, written once, and what they mean.

use super::chart_files::{Drawn, place};
use super::input::{self, Input};
use super::{Failure, interrupt, memory, parse_accuracy, parse_memory};
use crate::touch::WorkLimits;
use padfield_engine::field::{self, Settings};
use std::path::PathBuf;

/// A panel file and what is changed in it.
#[derive(Clone, Debug, clap::Args)]
pub struct Given {
    /// Panel file (TOML)
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Override a value of the file by its dotted path; may be given several times
    #[arg(long, value_name = "PATH=VALUE")]
    pub set: Vec<String>,
}

impl Given {
    /// The file with its overrides, and the panel it describes.
    pub(super) fn read(&self) -> Result<Input, Failure> {
        input::read(&self.file, &self.set)
    }
}

/// How exactly the fields are solved, and in how much memory.
#[derive(Clone, Debug, clap::Args)]
pub struct Solving {
    /// Wanted estimated error of every base and touch shift
    #[arg(long, default_value = "2%", value_parser = parse_accuracy)]
    pub accuracy: f64,
    /// Largest memory the solver may ask for
    #[arg(long, default_value = "8GB", value_parser = parse_memory)]
    pub memory: u64,
}

impl Solving {
    /// Settings of the solver.
    pub(super) fn settings(&self) -> Settings {
        Settings {
            accuracy: self.accuracy,
            memory_cap_bytes: memory::of_machine(self.memory),
            ..Settings::default()
        }
    }

    /// The same, with who solves, who may stop it and who hears of it.
    pub(super) fn limits<'a>(&self, progress: &'a (dyn Fn(&str) + Sync)) -> WorkLimits<'a> {
        WorkLimits {
            settings: self.settings(),
            solver: &field::solve,
            stop: &interrupt::asked,
            progress,
        }
    }
}

/// Where the answer goes: text and charts, or one JSON object.
#[derive(Clone, Debug, clap::Args)]
pub struct Destination {
    /// Folder of the charts (default: results/PANEL/ and the name of the command, in the current folder)
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Print one JSON object instead of text, and draw no chart
    #[arg(long)]
    pub json: bool,
}

impl Destination {
    /// The folder of the charts of a command, tried, and what is drawn there; none where nothing is drawn.
    pub(super) fn charts(
        &self,
        given: &Given,
        command: &str,
    ) -> Result<Option<(PathBuf, Drawn)>, Failure> {
        match self.json {
            true => Ok(None),
            false => place(&given.file, command, self.out.as_ref(), &given.set).map(Some),
        }
    }
}
