//! The program as a process that a signal ends.

use std::io::{Read, Seek};
use std::process::{Child, Command, ExitStatus, Output};
use std::time::{Duration, Instant};

/// Starts a program, signals it once it is time for that, and gives what it printed until it ended by itself. One that
/// ends earlier is not signalled.
pub fn signalled(
    command: &mut Command,
    signal: &str,
    mut is_time: impl FnMut(&Child) -> bool,
) -> Output {
    // Files, which unlike pipes are never full.
    let mut printed = [(); 2].map(|()| tempfile::tempfile().expect("a file"));
    let [stdout, stderr] = printed
        .each_ref()
        .map(|file| file.try_clone().expect("the same file"));
    let child = command.stdout(stdout).stderr(stderr).spawn();
    let mut child = child.expect("the program starts");
    if wait(&mut child, &mut is_time).is_none() {
        send(&mut child, signal);
    }
    let status = wait(&mut child, |_| false).expect("without a time only an end");
    let [stdout, stderr] = printed.each_mut().map(|file| {
        let mut bytes = Vec::new();
        file.rewind().expect("a file");
        file.read_to_end(&mut bytes).expect("a file");
        bytes
    });
    Output {
        status,
        stdout,
        stderr,
    }
}

/// Time for a signal when so much has passed.
pub fn after(time: Duration) -> impl FnMut(&Child) -> bool {
    move |_| {
        std::thread::sleep(time);
        true
    }
}

/// The end of a process, none when it is time before that. One of both must come without help.
fn wait(child: &mut Child, mut is_time: impl FnMut(&Child) -> bool) -> Option<ExitStatus> {
    let start = Instant::now();
    loop {
        let is_time = is_time(child);
        let end = child.try_wait().expect("a state");
        if is_time || end.is_some() {
            return end;
        }
        if start.elapsed() > Duration::from_secs(60) {
            child.kill().expect("a process");
            panic!("nothing happens");
        }
        std::thread::sleep(Duration::from_millis(1));
    }
}

fn send(child: &mut Child, signal: &str) {
    if signal == "KILL" {
        return child.kill().expect("a process");
    }
    let sent = Command::new("kill")
        .args(["-s", signal, &child.id().to_string()])
        .status();
    assert!(sent.expect("kill").success());
}
