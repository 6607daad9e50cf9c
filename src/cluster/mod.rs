//! A study on a compute cluster: what a task is given, and the script that hands the tasks to a scheduler.
//!
//! Text only: nothing here starts or writes anything. The script is one file for people to read and adapt: run
//! without arguments it submits itself to Slurm, once as an array of shards and once as the merge that
//! waits for them.

mod script;
mod task;

pub use script::{Script, shell_word};
pub use task::Task;

#[cfg(test)]
mod tests;
