//! padfield-engine: capacitances of conductors among layered dielectrics, each with its error bar.
//!
//! Begin with [`case::Case`], the field problem in metres (or read one from text: [`case_record`]), and
//! [`field::solve`], which gives Maxwell's matrix of it with bounds from both sides and an estimated error.
//! [`grid`] paints a case onto a graded grid and [`multigrid`] solves the two networks that [`field`] makes of
//! that; [`capacitance`] reduces a matrix to what one pin sees, [`hatch`] says how much a copper pattern leaks,
//! and [`verify`] holds numbers known from outside that the engine is checked against. [`units`] carries values
//! with their unit, [`polygon`] measures outlines, [`elliptic`] is what closed forms are made of, [`hidden`] finds characters that nobody sees,
//! [`stop`] is how somebody ends a solve in the middle. Many designs of one shape: [`field::reduced`].
//! None of them prints or touches files; the same case gives the same bits with any number of threads.
//!
//! # Example
//!
//! Plates 4 mm wide and 1 mm apart, without fringes, have 4 times the vacuum permittivity per metre:
//!
//! ```
//! use padfield_engine::field::{Settings, solve};
//! use padfield_engine::units::VACUUM_PERMITTIVITY;
//!
//! let case = padfield_engine::case_record::parse(r#"
//!     kind = "planar"
//!     box = [0, 4, 0, 1.5]
//!     wall = { x = "insulated", y = ["grounded", "insulated"] }
//!     [[conductors]]
//!     name = "plate"
//!     rects = [[0, 4, 1, 1]]
//! "#)?;
//! let answer = solve(&case, None, &Settings::default(), &|_| {})?;
//! let (matrix, exact) = (&answer.with, 4.0 * VACUUM_PERMITTIVITY);
//! assert!((matrix.value[[0, 0]] / exact - 1.0).abs() < 1e-6);
//! assert!(matrix.lower[[0, 0]] <= exact * (1.0 + 1e-9) && exact <= matrix.upper[[0, 0]] * (1.0 + 1e-9));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod capacitance;
pub mod case;
pub mod case_record;
pub mod elliptic;
pub mod field;
pub mod grid;
pub mod hatch;
pub mod hidden;
pub mod multigrid;
pub mod polygon;
pub mod stop;
pub mod units;
pub mod verify;

/// Tells the sources of this engine apart from those of any other.
pub const SOURCES: &str = env!("ENGINE_SOURCES");
