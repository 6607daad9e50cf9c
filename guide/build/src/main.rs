//! Builds the guide as a book: `cargo run --manifest-path guide/build/Cargo.toml -- FOLDER`, from the folder of the
//! project. A chapter that cannot be read or an include that is not there ends it with an error.

use mdbook_driver::MDBook;
use std::path::PathBuf;
use std::process::ExitCode;

fn main() -> ExitCode {
    let Some(folder) = std::env::args_os().nth(1).map(PathBuf::from) else {
        eprintln!("which folder shall the book be written to?");
        return ExitCode::from(2);
    };
    match build(folder) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error:#}");
            ExitCode::FAILURE
        }
    }
}

fn build(folder: PathBuf) -> anyhow::Result<()> {
    let mut book = MDBook::load("guide")?;
    book.config.build.build_dir = std::path::absolute(folder)?;
    book.build()
}
