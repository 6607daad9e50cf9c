//! `padfield shell DIR`: what a shell and its reader of manuals take from the commands.

use super::chart_files::check_folder;
use super::input::bad_input;
use super::{Exit, Failure, print};
use crate::report::terminal::wrap;
use crate::store::write_whole;
use clap::{Command, ValueEnum};
use clap_complete::Shell;
use clap_mangen::Man;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Write man pages, and completions for shells, into a folder
#[derive(Clone, Debug, clap::Args)]
#[command(after_help = "Example: padfield shell shell-files\n\n\
    Man pages come to FOLDER/man1, completions to FOLDER/completions, one file a shell: bash, elvish, fish, \
    PowerShell, zsh. Where they are looked for is told by the shell's own manual.")]
pub struct ShellArguments {
    /// Folder of the files; created when missing
    #[arg(value_name = "FOLDER")]
    pub folder: PathBuf,
}

/// Writes the files of all commands.
///
/// # Errors
/// A folder that cannot be written.
pub fn shell(
    arguments: &ShellArguments,
    mut commands: Command,
    output: &mut dyn Write,
) -> Result<Exit, Failure> {
    let folder = &arguments.folder;
    let (manuals, completions) = (folder.join("man1"), folder.join("completions"));
    check_folder(&manuals)?;
    check_folder(&completions)?;
    let name = commands.get_name().to_owned();
    for shell in Shell::value_variants() {
        let mut text = Vec::new();
        clap_complete::generate(*shell, &mut commands, &name, &mut text);
        let file = match shell.to_string().as_str() {
            "zsh" => format!("_{name}"),
            "powershell" => format!("_{name}.ps1"),
            "elvish" => format!("{name}.elv"),
            other => format!("{name}.{other}"),
        };
        write(&completions.join(file), &text)?;
    }
    commands.build();
    let mut pages = 0;
    for command in std::iter::once(&commands).chain(commands.get_subcommands()) {
        if command.get_name() == "help" {
            continue;
        }
        let version = env!("CARGO_PKG_VERSION");
        let page = Man::new(command.clone())
            .source(format!("{name} {version}"))
            .manual("Capacitive touch panels");
        let mut text = Vec::new();
        page.render(&mut text)
            .map_err(|error| unwritable(&manuals, &error))?;
        write(&manuals.join(page.get_filename()), &text)?;
        pages += 1;
    }
    let told = format!(
        "{pages} man pages in {}, completions for {} shells in {}.",
        manuals.display(),
        Shell::value_variants().len(),
        completions.display()
    );
    print(output, &(wrap(&told) + "\n"))?;
    Ok(Exit::Success)
}

fn write(path: &Path, text: &[u8]) -> Result<(), Failure> {
    write_whole(path, text).map_err(|error| unwritable(path, &error))
}

fn unwritable(path: &Path, error: &std::io::Error) -> Failure {
    bad_input(format!("cannot write {}: {error}", path.display()))
}
