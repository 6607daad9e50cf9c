//! Which folder keeps solved fields, from one command to the next.

use super::parse_memory;
use crate::solved::SolvedFields;
use crate::store::try_folder;
use padfield_engine::field::Keeper;
use std::path::PathBuf;
use std::sync::{Arc, OnceLock};

/// The word that is no folder.
const NONE: &str = "none";

/// Where solved fields are kept.
#[derive(Clone, Debug, clap::Args)]
pub struct Cache {
    /// Folder that keeps solved fields for later commands, or "none" (default: in the user's folder for caches)
    #[arg(long = "cache", value_name = "DIR", env = "PADFIELD_CACHE", hide_env_values = true, value_parser = parse_folder)]
    folder: Option<PathBuf>,
    /// Solve every field anew and keep none
    #[arg(long)]
    no_cache: bool,
    /// Largest size of that folder; what was not used for longest leaves first
    #[arg(long, value_name = "SIZE", default_value = "2GB", value_parser = parse_memory)]
    cache_limit: u64,
}

impl Cache {
    /// Who keeps fields in this run, one for all who ask.
    pub(super) fn keeper(&self) -> Option<Keeper> {
        let folder = match &self.folder {
            _ if self.no_cache => return None,
            Some(folder) if folder.as_os_str() == NONE => return None,
            Some(folder) => folder.clone(),
            None => dirs::cache_dir()?.join("padfield").join("fields"),
        };
        let fields = OPEN.get_or_init(|| Arc::new(SolvedFields::new(folder, self.cache_limit)));
        Some(Keeper::new(fields.clone()))
    }
}

static OPEN: OnceLock<Arc<SolvedFields>> = OnceLock::new();

/// What the folder was good for in this run; nothing where nothing was kept before.
pub(super) fn last_words() -> Option<String> {
    let [known, solved] = OPEN.get()?.known_and_solved();
    let rest = match solved {
        0 => "none had to be solved".to_owned(),
        solved => format!("{} solved", words(solved)),
    };
    (known > 0).then(|| format!("fields: {} solved before, {rest}", words(known)))
}

/// What an interrupted run leaves for the next one; nothing where it keeps nothing.
pub(super) fn words_of_interrupted() -> Option<String> {
    let open = OPEN.get()?;
    let goes_on = "the same command goes on from there";
    match (open.written(), open.known_and_solved()) {
        (0, [0, _]) => None,
        (0, _) => Some(goes_on.to_owned()),
        (written, _) => Some(format!(
            "{} solved in this run {} kept; {goes_on}",
            words(written),
            if written == 1 { "is" } else { "are" }
        )),
    }
}

fn words(grids: usize) -> String {
    match grids {
        1 => "1 grid".to_owned(),
        grids => format!("{grids} grids"),
    }
}

/// Whoever names a folder means it: one that cannot be written is told before anything is solved.
fn parse_folder(text: &str) -> Result<PathBuf, String> {
    let folder = PathBuf::from(text);
    match text == NONE {
        true => Ok(folder),
        false => try_folder(&folder)
            .map(|()| folder)
            .map_err(|error| format!("cannot be written: {error}")),
    }
}
