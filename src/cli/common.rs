//! The arguments that every question has, written once, and what they mean.

use super::cache::Cache;
use super::chart_files::{Drawn, place};
use super::input::{self, Input, bad_input, faulty};
use super::so_far::telling;
use super::{Failure, interrupt, memory, parse_accuracy, parse_memory};
use crate::input::Document;
use crate::panel::Panel;
use crate::response::ResponseError;
use crate::touch::{WorkLimits, sharing};
use padfield_engine::field::{self, Settings};
use std::path::{Path, PathBuf};

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

    /// The file with its overrides, when the panel is not wanted yet.
    pub(super) fn document(&self) -> Result<Document, Failure> {
        let document = input::document(&self.file)?;
        document
            .overridden(&input::overrides(&self.set)?)
            .map_err(faulty)
    }
}

/// How exactly the fields are solved, and in how much memory.
#[derive(Clone, Debug, clap::Args)]
pub struct Solving {
    /// Wanted estimated error of every touch shift and of every base, at its pin where counts are told
    #[arg(long, default_value = "2%", value_parser = parse_accuracy)]
    pub accuracy: f64,
    /// Memory and cache
    #[command(flatten)]
    pub resources: Resources,
}

impl Solving {
    /// Settings of the solver.
    pub(super) fn settings(&self) -> Settings {
        self.resources.settings(self.accuracy)
    }

    /// The same for a command that tells what it knows when it is interrupted, with who solves and who hears of it.
    pub(super) fn limits<'a>(&self, progress: &'a (dyn Fn(&str) + Sync)) -> WorkLimits<'a> {
        WorkLimits {
            settings: telling(self.settings()),
            solver: &field::solve,
            stop: &interrupt::asked,
            progress,
        }
    }
}

/// How much memory the solver may take, and where it finds what was solved before.
#[derive(Clone, Debug, clap::Args)]
pub struct Resources {
    /// Largest memory the solver may ask for
    #[arg(long, value_name = "MEMORY", default_value = "8GB", value_parser = parse_memory)]
    pub memory: u64,
    /// The cache
    #[command(flatten)]
    pub cache: Cache,
}

impl Resources {
    /// Settings of the solver that takes no more memory than this machine has.
    pub(super) fn settings(&self, accuracy: f64) -> Settings {
        sharing(&Settings {
            accuracy,
            memory_cap_bytes: memory::of_machine(self.memory),
            keeper: self.cache.keeper(),
            ..Settings::default()
        })
    }
}

/// Which finger touches.
#[derive(Clone, Debug, clap::Args)]
pub struct Touching {
    /// Finger of the file that touches (default: the first)
    #[arg(long, value_name = "NAME")]
    finger: Option<String>,
}

impl Touching {
    /// Its name, none for the first; the panel has it.
    pub(super) fn of(&self, file: &Path, panel: &Panel) -> Result<Option<&str>, Failure> {
        if let Some(name) = &self.finger
            && panel.fingers.iter().all(|finger| finger.name != *name)
        {
            let error = ResponseError::UnknownFinger {
                name: name.clone(),
                known: panel.fingers.iter().map(|f| f.name.clone()).collect(),
            };
            return Err(bad_input(format!("{}: {error}", file.display())));
        }
        Ok(self.finger.as_deref())
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
