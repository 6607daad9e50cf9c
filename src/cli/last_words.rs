//! Memory that the system refuses in the middle of the work: told, and the program ends with an exit code instead
//! of an abort. What is large is counted and asked for before (`padfield_engine::field`); this is for all the rest.

use super::{Exit, writer};
use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;
use std::io::Write;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// The system's allocator, with a last word where it gives nothing. The allocator of the program, not of the
/// library.
pub struct LastWords;

// SAFETY: everything is handed to the system's allocator as it comes; no null is ever returned.
unsafe impl GlobalAlloc for LastWords {
    #[inline]
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        given(unsafe { System.alloc(layout) }, layout.size())
    }

    #[inline]
    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        given(unsafe { System.alloc_zeroed(layout) }, layout.size())
    }

    #[inline]
    unsafe fn dealloc(&self, place: *mut u8, layout: Layout) {
        unsafe { System.dealloc(place, layout) }
    }

    #[inline]
    unsafe fn realloc(&self, place: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        given(unsafe { System.realloc(place, layout, size) }, size)
    }
}

#[inline]
fn given(place: *mut u8, bytes: usize) -> *mut u8 {
    match place.is_null() {
        true => refused(bytes),
        false => place,
    }
}

/// Says so without asking for memory, once, and ends.
#[cold]
fn refused(bytes: usize) -> ! {
    thread_local! {
        static HERE: Cell<bool> = const { Cell::new(false) };
    }
    static SAID: AtomicBool = AtomicBool::new(false);
    if HERE.replace(true) {
        // Not even the end has room.
        std::process::abort();
    }
    if SAID.swap(true, Ordering::Relaxed) {
        // Another thread is saying it, or has while it ends the program.
        loop {
            std::thread::sleep(Duration::from_secs(1));
        }
    }
    let mut room = [0_u8; 300];
    let mut text = &mut room[..];
    let _ = writeln!(
        text,
        "the system gives no more memory ({bytes} bytes were asked for); finished points of a study are kept: ask \
         for a coarser accuracy, for less at once (--threads, --units), or give the program more memory"
    );
    let left = text.len();
    let length = room.len() - left;
    writer::say_bytes(&room[..length]);
    super::interrupt::end_with(Exit::BadInput)
}
