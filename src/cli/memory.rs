//! What the process does with memory that is free again, and how much the machine has: asked here only.

use super::writer;
use padfield_engine::units::memory_words;
use std::path::Path;
use std::sync::Once;

/// What `--memory` is unless something else is asked for \[bytes\].
pub(super) const USUAL: u64 = 8_000_000_000;

/// The memory that the solver may take: what was asked for, or what the machine has when that is less.
/// Who asked for more than that is told.
pub(super) fn of_machine(asked: u64) -> u64 {
    let Some(has) = machine_bytes().filter(|has| *has < asked) else {
        return asked;
    };
    static TOLD: Once = Once::new();
    if asked != USUAL {
        TOLD.call_once(|| {
            let [asked, has] = [asked, has].map(memory_words);
            writer::say(&format!(
                "warning: --memory {asked} is more than this machine has; the solver takes at most its {has}"
            ));
        });
    }
    has
}

/// Memory of the machine, or what the control groups of this process leave of it \[bytes\]; none where
/// the system does not say.
fn machine_bytes() -> Option<u64> {
    let limits = [physical_bytes(), group_bytes()];
    limits.into_iter().flatten().min()
}

#[cfg(unix)]
fn physical_bytes() -> Option<u64> {
    // SAFETY: both only read numbers of the system.
    let [pages, size] = [libc::_SC_PHYS_PAGES, libc::_SC_PAGESIZE]
        .map(|name| u64::try_from(unsafe { libc::sysconf(name) }).ok());
    pages?.checked_mul(size?).filter(|bytes| *bytes > 0)
}

#[cfg(not(unix))]
fn physical_bytes() -> Option<u64> {
    None
}

/// The least limit of the control groups this process is in: version 2 at every level, version 1 at the
/// one that is mounted. Elsewhere than on Linux there are no such files.
fn group_bytes() -> Option<u64> {
    let root = Path::new("/sys/fs/cgroup");
    let own = std::fs::read_to_string("/proc/self/cgroup").unwrap_or_default();
    let own = own.lines().find_map(|line| line.strip_prefix("0::/"));
    let own = own.map_or_else(|| root.to_owned(), |path| root.join(path));
    let levels = own
        .ancestors()
        .take_while(|folder| folder.starts_with(root));
    levels
        .map(|folder| folder.join("memory.max"))
        .chain([root.join("memory/memory.limit_in_bytes")])
        .filter_map(|file| std::fs::read_to_string(file).ok()?.trim().parse().ok())
        .min()
}

/// Keeps freed memory for the next field problem instead of giving it back to the system, whose zeroed
/// pages would take a tenth of every solve. Where the system's allocator has no such settings, nothing
/// happens.
pub fn keep_freed_memory() {
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    {
        // The largest array that glibc keeps at hand; larger ones go back one by one.
        const KEPT_BYTES: i32 = 32 << 20;
        for (parameter, value) in [
            (libc::M_MMAP_THRESHOLD, KEPT_BYTES),
            (libc::M_TRIM_THRESHOLD, i32::MAX),
            (libc::M_TOP_PAD, KEPT_BYTES),
        ] {
            // SAFETY: sets numbers of the allocator under its own lock.
            unsafe {
                libc::mallopt(parameter, value);
            }
        }
    }
}
