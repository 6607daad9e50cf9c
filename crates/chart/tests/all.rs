//! The tests of the charts as one program; `cargo test -p padfield-chart --test all ranges::` runs those of
//! `ranges.rs`. Those that need a panel or the program are with `padfield`.

mod chart;
mod drawing;
mod map;
mod ranges;
mod walk;
