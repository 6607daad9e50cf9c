//! Folders and files that are not what they seem: links, dead files, folders of others, archives, folders removed.

use super::scratch::{Scratch, own_folder};
use super::tests::{done, filled, finished, study};
use super::whole::Unfinished;
use super::*;
use std::collections::BTreeSet;
use std::path::Path;

fn names(folder: &Path) -> BTreeSet<String> {
    let entries = std::fs::read_dir(folder).unwrap().flatten();
    entries
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect()
}

#[test]
fn a_store_at_rest_is_read_without_a_file_beside_it() {
    let folder = tempfile::tempdir().unwrap();
    let (store, record) = filled(folder.path());
    drop(store);
    let before = names(folder.path());
    let reader = Reader::open(folder.path()).unwrap();
    assert_eq!(reader.rows(&record).unwrap().len(), 3);
    assert_eq!(names(folder.path()), before, "a read-only folder would do");
    drop(reader);
    // The way that sees what a writer does needs the index of the log: in such a folder it would end here.
    let reader = Reader::live(folder.path()).unwrap();
    assert_eq!(reader.rows(&record).unwrap().len(), 3);
    assert_ne!(names(folder.path()), before);
}

#[test]
fn a_store_that_has_a_log_is_read_with_it() {
    let folder = tempfile::tempdir().unwrap();
    let (store, record) = filled(folder.path());
    // As a writer that was killed leaves it: the points are in the log, the lock is free.
    let killed = tempfile::tempdir().unwrap();
    for name in names(folder.path()) {
        std::fs::copy(folder.path().join(&name), killed.path().join(&name)).unwrap();
    }
    let reader = Reader::open(killed.path()).unwrap();
    assert_eq!(reader.rows(&record).unwrap().len(), 3);
    // Beside a writer.
    let reader = Reader::open(folder.path()).unwrap();
    assert_eq!(reader.rows(&record).unwrap().len(), 3);
    drop(store);
}

#[test]
fn what_is_written_while_it_is_read_at_rest_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let (store, record) = filled(folder.path());
    drop(store);
    let reader = Reader::open(folder.path()).unwrap();
    let file = std::fs::File::options()
        .append(true)
        .open(folder.path().join(DATABASE));
    file.unwrap().set_len(1 << 20).unwrap();
    let error = reader.rows(&record).unwrap_err();
    assert!(matches!(error, StoreError::Moving(_)), "{error}");
}

#[cfg(unix)]
#[test]
fn a_store_that_was_removed_or_replaced_takes_no_more_points() {
    for replaced in [false, true] {
        let folder = tempfile::tempdir().unwrap();
        let results = folder.path().join("results");
        let (mut store, record) = filled(&results);
        store.check_place().unwrap();
        std::fs::rename(&results, folder.path().join("away")).unwrap();
        if replaced {
            drop(filled(&results));
        }
        let point = study().plan().point(3);
        let finished = finished(3, done(3.0, true));
        let error = store
            .record(&record, 3, &point.coordinates, &finished)
            .unwrap_err();
        assert!(matches!(error, StoreError::Removed(_)), "{error}");
    }
}

#[cfg(unix)]
#[test]
fn a_link_in_the_place_of_a_file_on_its_way_is_not_followed() {
    let folder = tempfile::tempdir().unwrap();
    let (store, record) = filled(folder.path());
    let victim = folder.path().join("victim");
    std::fs::write(&victim, "precious").unwrap();
    for name in ["points.csv.unfinished", "points.copy", "points.csv"] {
        std::os::unix::fs::symlink(&victim, folder.path().join(name)).unwrap();
    }
    let path = write_table(store.reader(), &record, folder.path()).unwrap();
    let label = Label {
        shard: crate::study::Shard::WHOLE,
        scenario: "scenario 1".to_owned(),
        engine: ENGINE.to_owned(),
        command: "padfield".to_owned(),
    };
    publish(folder.path(), &label, &folder.path().join("copy.sqlite")).unwrap();
    assert_eq!(std::fs::read_to_string(&victim).unwrap(), "precious");
    assert!(
        path.symlink_metadata().unwrap().is_file(),
        "the link is gone"
    );
    Part::open(&folder.path().join("copy.sqlite")).unwrap();
}

#[test]
fn names_on_the_way_are_new_and_dead_files_go() {
    let folder = tempfile::tempdir().unwrap();
    let target = folder.path().join("chart.svg");
    // Of a dead process, and of one that lives.
    let dead = folder.path().join("chart.svg.0123456789abcdef.unfinished");
    std::fs::write(&dead, "half").unwrap();
    let living = Unfinished::new(&target).unwrap();
    assert!(!dead.exists());
    write_whole(&target, b"whole").unwrap();
    let other = Unfinished::new(&target).unwrap();
    assert_ne!(living.path(), other.path());
    assert!(living.path().is_file(), "nobody takes it from a living one");
    drop((living, other));
    assert_eq!(
        names(folder.path()),
        BTreeSet::from(["chart.svg".to_owned()])
    );
    assert_eq!(std::fs::read(&target).unwrap(), b"whole");
}

#[test]
fn dead_scratch_folders_go_and_living_ones_stay() {
    let parent = tempfile::tempdir().unwrap();
    let dead = parent.path().join("padfield-merge-1");
    std::fs::create_dir_all(dead.join("store")).unwrap();
    std::fs::write(dead.join("in-use"), "").unwrap();
    std::fs::write(dead.join("store/points.sqlite"), "half").unwrap();
    // Just made, without its lock as yet.
    let newborn = parent.path().join("padfield-merge-2");
    std::fs::create_dir(&newborn).unwrap();
    let other = parent.path().join("padfield-0123456789abcdef-1-of-2");
    std::fs::create_dir(&other).unwrap();
    let living = Scratch::new(parent.path(), "padfield-merge-").unwrap();
    assert!(!dead.exists());
    let second = Scratch::new(parent.path(), "padfield-merge-").unwrap();
    assert_ne!(living.path(), second.path());
    assert!(living.path().is_dir() && newborn.is_dir() && other.is_dir());
    drop((living, second));
    assert_eq!(names(parent.path()).len(), 2);
}

#[cfg(unix)]
#[test]
fn a_folder_of_ours_is_no_link_and_open_to_nobody_else() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt, symlink};
    let parent = tempfile::tempdir().unwrap();
    let mode = |path: &Path| path.metadata().unwrap().mode() & 0o777;
    let own = parent.path().join("own");
    own_folder(&own).unwrap();
    assert_eq!(mode(&own), 0o700);
    own_folder(&own).unwrap();
    assert!(names(&own).is_empty());
    let refused = |path: &Path, needed: &str| {
        let error = own_folder(path).unwrap_err().to_string();
        assert!(
            error.contains(needed) && error.contains("--scratch"),
            "{error}"
        );
    };
    let victim = parent.path().join("victim");
    std::fs::create_dir(&victim).unwrap();
    symlink(&victim, parent.path().join("link")).unwrap();
    refused(&parent.path().join("link"), "is a link");
    assert!(names(&victim).is_empty());
    std::fs::write(parent.path().join("file"), "").unwrap();
    refused(&parent.path().join("file"), "is no folder");
    std::fs::set_permissions(&own, PermissionsExt::from_mode(0o777)).unwrap();
    refused(&own, "can be written by others");
    // Only a privileged user can give a folder to someone else.
    std::fs::set_permissions(&own, PermissionsExt::from_mode(0o755)).unwrap();
    if std::os::unix::fs::chown(&own, Some(65534), None).is_ok() {
        refused(&own, "belongs to another user");
    }
}

/// Opening a pipe that nobody writes waits for ever, and a signal only asks a sweep to end.
#[cfg(unix)]
#[test]
fn what_is_no_file_is_not_waited_for() {
    use std::sync::mpsc::channel;
    use std::time::Duration;
    let folder = tempfile::tempdir().unwrap();
    let pipe = |name: &str| {
        let path = folder.path().join(name);
        let made = std::process::Command::new("mkfifo").arg(&path).status();
        assert!(made.expect("mkfifo").success());
        path
    };
    let shard = pipe("shard-1-of-2.sqlite");
    pipe(LOCK);
    let (send, heard) = channel();
    let place = folder.path().to_owned();
    std::thread::spawn(move || {
        let refused = Part::open(&shard).unwrap_err().to_string();
        let _ = send.send(refused);
        let _ = send.send(Store::open(&place, || false).unwrap_err().to_string());
        let _ = send.send(Reader::open(&place).unwrap_err().to_string());
    });
    let next = || {
        heard
            .recv_timeout(Duration::from_secs(60))
            .expect("no wait")
    };
    assert!(next().contains("it is no file"));
    assert!(next().contains("it is no file"));
    assert!(next().contains("there is no store"));
}
