//! Writes the TypeScript types of the facts into the folder named.

use std::process::ExitCode;

fn main() -> ExitCode {
    let Some(folder) = std::env::args_os().nth(1) else {
        eprintln!("name the folder to write to");
        return ExitCode::FAILURE;
    };
    match windfall_facts::export_typescript(std::path::Path::new(&folder)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}
