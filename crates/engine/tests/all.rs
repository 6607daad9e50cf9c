//! The tests of the engine's public face as one program; `cargo test --test all hatch::` runs those of `hatch.rs`.
//! Those that need a panel or the program are with `padfield`.

mod apart;
mod convergence;
mod derivatives;
mod estimates;
mod family;
mod hatch;
mod invariants;
mod millimetres;
mod multigrid;
mod reduced;
mod roaming;
mod screened;
mod screens;
mod turned;
