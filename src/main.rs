//! Arguments in, exit code out.

fn main() -> std::process::ExitCode {
    padfield::cli::run(std::env::args_os()).into()
}
