//! Arguments in, exit code out.

#[global_allocator]
static ALLOCATOR: padfield::cli::LastWords = padfield::cli::LastWords;

fn main() -> std::process::ExitCode {
    padfield::cli::run(std::env::args_os()).into()
}
