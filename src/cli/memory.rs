//! What the process does with memory that is free again.

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
