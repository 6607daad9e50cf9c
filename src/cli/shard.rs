//! `padfield sweep FILE --shard K/N`: a part of a study on this machine, its store as a file that travels.
//!
//! The store is written on a local disk, because its log is not safe on network file systems, and copied to
//! the folder of the study by rename: now and then, when the shard is done, and when it is stopped. A
//! task that is started again goes on from the local store, from the copy, or from both.

use super::left_behind::{beside, note_host};
use super::study_record::{RunRecord, SweptRecord};
use super::sweep::{
    SweepArguments, after, exit_of, failed_with, opened, quoted, resume, study_folder,
};
use super::sweep_progress::SweepProgress;
use super::sweep_text::{altered_text, store_failure, summary_text};
use super::told::Told;
use super::writer::say;
use super::{Exit, Failure, interrupt};
use crate::store::{
    ENGINE, Label, Part, PartError, SHARDS, Store, StoreError, own_folder, publish,
    remove_unfinished,
};
use crate::study::Shard;
use crate::sweep::{Job, Limits, Summary, SweepError, run_shard};
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::{Duration, SystemTime};

/// Attempts to open a local store that another process finishes and removes meanwhile.
const ATTEMPTS: usize = 3;

/// The copy of a shard in the folder of its study.
struct Copy {
    path: PathBuf,
    label: Label,
    /// Length and time of the copy this process wrote or read last.
    seen: Mutex<Option<(u64, SystemTime)>>,
}

impl Copy {
    fn new(path: PathBuf, label: Label) -> Self {
        Self {
            path,
            label,
            seen: Mutex::new(None),
        }
    }

    fn state(&self) -> Option<(u64, SystemTime)> {
        let data = std::fs::metadata(&self.path).ok()?;
        Some((data.len(), data.modified().ok()?))
    }

    /// Whether another process has replaced the copy since.
    fn is_news(&self) -> bool {
        let state = self.state();
        state.is_some() && state != *self.seen.lock().expect("no panic while it is held")
    }

    /// Takes over what the copy has and the store has not. A torn copy is put aside.
    fn fetch(&self, store: &mut Store, say: &mut dyn FnMut(&str)) -> Result<(), StoreError> {
        if !self.is_news() {
            return Ok(());
        }
        let state = self.state();
        match Part::open(&self.path) {
            Ok(part) => {
                store.join(&part)?;
            }
            Err(PartError::Torn { path, reason }) => {
                let aside = path.with_extension("torn");
                std::fs::rename(&path, &aside).map_err(|error| StoreError::Unreadable {
                    path: path.clone(),
                    reason: error.to_string(),
                })?;
                say(&format!(
                    "{} was torn ({reason}) and is put aside as {}: its points are solved again",
                    path.display(),
                    aside.display()
                ));
            }
            Err(PartError::Store(error)) => return Err(error),
        }
        *self.seen.lock().expect("no panic while it is held") = state;
        Ok(())
    }

    fn write(&self, local: &Path) -> Result<(), StoreError> {
        publish(local, &self.label, &self.path)?;
        *self.seen.lock().expect("no panic while it is held") = self.state();
        Ok(())
    }
}

/// Runs a part of a study, tells it, and says how it ended.
pub(super) fn run_part(
    arguments: &SweepArguments,
    job: &Job<'_>,
    shard: Shard,
    limits: &Limits,
    told: &mut Told<'_, SweptRecord>,
) -> Result<Exit, Failure> {
    let study = job.study;
    let (folder, changes) = study_folder(arguments, study)?;
    let command = resume(arguments, study);
    let go_on = format!("{command} --shard {shard}");
    let failed = |error: StoreError| failed_with(error, &go_on, "--out");
    let failed_here = |error: StoreError| failed_with(error, &go_on, "--scratch");
    let label = Label {
        shard,
        scenario: job.scenario(),
        engine: ENGINE.to_owned(),
        command,
    };
    // Whoever cannot deliver should know before any work.
    let shards = shards_of(&folder).map_err(failed)?;
    let copy = Copy::new(shards.join(label.file_name()), label);
    if let Some(changes) = &changes {
        changes.remember(&folder, &job.scenario())?;
    }
    remove_unfinished(&copy.path).map_err(failed)?;
    let local = local_folder(arguments, &copy.label, &shards);
    let mut progress = SweepProgress::new(&format!("{} {shard}", study.name));
    let mut store = open(&local, &mut progress).map_err(failed_here)?;
    note_host(&local);
    bring_home(&local, &copy, &mut |text| progress.say(text));
    if let Some(altered) = altered_text(&store) {
        progress.say(&altered);
    }
    copy.fetch(&mut store, &mut |text| progress.say(text))
        .map_err(failed)?;
    let result = run_copying(
        job,
        shard,
        &mut store,
        limits,
        arguments,
        &copy,
        &mut progress,
    );
    let news = copy.fetch(&mut store, &mut |text| progress.say(text));
    drop(progress);
    // A store that is gone has nothing to copy, and nobody may say that points are in it.
    let place = store.check_place();
    place.map_err(|error| with_copied_before(failed_here(error), &copy))?;
    // Whatever ended the run: what is finished is copied.
    let copied = news.and_then(|()| copy.write(&local));
    let summary = result.map_err(|error| {
        let place = match &copied {
            Ok(()) => &copy.path,
            Err(_) => store.path(),
        };
        let said = format!(
            "{} points were finished in this run; they and all earlier ones are in {}\n",
            error.safe,
            place.display()
        );
        after(&said, failed_here(error.source))
    })?;
    copied.map_err(|error| {
        let said = format!(
            "all finished points are in {}, but they could not be copied to {}: ",
            store.path().display(),
            copy.path.display()
        );
        after(&said, failed(error))
    })?;
    tell(&summary, &folder, &copy, limits, told)?;
    // What stays behind is of use to a next run only, and the copy is as good.
    let _ = store.discard();
    if !summary.is_complete() {
        say(&format!("stopped before the end; go on with: {go_on}"));
    }
    Ok(exit_of(&summary))
}

/// The folder of the shards of a study, made when it is not there.
fn shards_of(folder: &Path) -> Result<PathBuf, StoreError> {
    let path = folder.join(SHARDS);
    match std::fs::create_dir_all(&path) {
        Ok(()) => Ok(path),
        Err(error) => Err(StoreError::Unwritable {
            path,
            reason: error.to_string(),
        }),
    }
}

/// A failure whose first line says what was copied before it, if anything was.
fn with_copied_before(failure: Failure, copy: &Copy) -> Failure {
    let kept = match copy.path.is_file() {
        true => format!("; what was copied before is in {}", copy.path.display()),
        false => String::new(),
    };
    Failure {
        message: failure.message.replacen('\n', &format!("{kept}\n"), 1),
        ..failure
    }
}

fn tell(
    summary: &Summary,
    folder: &Path,
    copy: &Copy,
    limits: &Limits,
    told: &mut Told<'_, SweptRecord>,
) -> Result<(), Failure> {
    let part = Some((summary.shard, copy.path.as_path()));
    let text = summary_text(summary, limits.threads)
        + &format!(
            "Store: {}; join the shards with: padfield merge {}\n",
            copy.path.display(),
            quoted(&folder.display().to_string())
        );
    told.text(&text)?;
    let record = RunRecord::of(summary, folder, limits.threads, part);
    told.record(SweptRecord::Run(Box::new(record)));
    Ok(())
}

/// What killed tasks of the same study have left on this machine is copied as they would have done it, and their
/// folders go. What cannot be copied now stays.
fn bring_home(local: &Path, own: &Copy, say: &mut dyn FnMut(&str)) {
    let name = local.file_name().unwrap_or_default().to_string_lossy();
    let Some(front) = name.strip_suffix(&shard_words(own.label.shard)) else {
        return;
    };
    for (folder, shard) in beside(local, front) {
        if interrupt::asked() {
            return;
        }
        let label = Label {
            shard,
            ..own.label.clone()
        };
        let copy = Copy::new(own.path.with_file_name(label.file_name()), label);
        let mut bring = || -> Result<bool, StoreError> {
            own_folder(&folder)?;
            // Taken only when its process is dead.
            let mut store = Store::open(&folder, || false)?;
            copy.fetch(&mut store, say)?;
            // Who was killed before the first word has nothing to bring, and a copy without its study is damaged.
            let has_begun = store
                .reader()
                .studies()?
                .iter()
                .any(|one| one.scenario == copy.label.scenario);
            if has_begun {
                copy.write(&folder)?;
            }
            store.discard()?;
            Ok(has_begun)
        };
        if let Ok(true) = bring() {
            say(&format!(
                "part {shard} was killed on this machine: its points are in {} now",
                copy.path.display()
            ));
        }
    }
}

/// How the names of scratch folders end.
fn shard_words(shard: Shard) -> String {
    format!("{}-of-{}", shard.number(), shard.count())
}

/// A name of its own for every shard of every scenario and folder, the same for a task that is started again.
fn local_folder(arguments: &SweepArguments, label: &Label, shards: &Path) -> PathBuf {
    let shards = std::path::absolute(shards).unwrap_or_else(|_| shards.to_owned());
    let mut hasher = blake3::Hasher::new();
    hasher.update(label.scenario.as_bytes());
    hasher.update(shards.as_os_str().as_encoded_bytes());
    let name = &hasher.finalize().to_hex()[..16];
    let scratch = arguments.scratch.clone().unwrap_or_else(std::env::temp_dir);
    scratch.join(format!("padfield-{name}-{}", shard_words(label.shard)))
}

fn open(local: &Path, progress: &mut SweepProgress) -> Result<Store, StoreError> {
    let mut is_told = false;
    let mut attempt = || {
        own_folder(local)?;
        opened(local, &mut is_told, progress)
    };
    let mut store = attempt();
    for _ in 1..ATTEMPTS {
        // Whoever had the folder has copied and removed it.
        if store.is_ok() || local.is_dir() {
            break;
        }
        store = attempt();
    }
    store
}

/// Solves and copies side by side: a machine that is lost takes only the points since the last copy with it.
fn run_copying(
    job: &Job<'_>,
    shard: Shard,
    store: &mut Store,
    limits: &Limits,
    arguments: &SweepArguments,
    copy: &Copy,
    progress: &mut SweepProgress,
) -> Result<Summary, SweepError> {
    let local = store.folder().to_owned();
    let every = Duration::from_secs_f64(60.0 * arguments.copy_every);
    let recorded = AtomicU64::new(0);
    let (end, ended) = channel::<()>();
    std::thread::scope(|scope| {
        let (local, recorded) = (&local, &recorded);
        scope.spawn(move || {
            let mut copied = 0;
            while let Err(RecvTimeoutError::Timeout) = ended.recv_timeout(every) {
                let now = recorded.load(Ordering::Relaxed);
                if now == copied || copy.is_news() {
                    continue;
                }
                match copy.write(local) {
                    Ok(()) => copied = now,
                    // The next copy may succeed; the points are safe here meanwhile.
                    Err(error) => {
                        let told = store_failure(&error, "the sweep goes on", "--out");
                        say(&format!("not copied: {told}"));
                    }
                }
            }
        });
        // What is in scratch is copied home.
        interrupt::something_is_known();
        let result = run_shard(job, shard, store, limits, &interrupt::asked, &mut |at| {
            recorded.store(at.recorded, Ordering::Relaxed);
            progress.show(at);
        });
        drop(end);
        result
    })
}
