//! Writes the seeds of all fuzzing programs: `seeds FOLDER` writes `FOLDER/PROGRAM/NUMBER`. The folders are created, and old seeds there are replaced.

use std::path::PathBuf;
use std::process::ExitCode;

fn write(folder: PathBuf) -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
    for (program, _) in bladeform_fuzz::READERS {
        let own = folder.join(program);
        if own.exists() {
            std::fs::remove_dir_all(&own)?;
        }
        std::fs::create_dir_all(&own)?;
        for (number, (_, bytes)) in bladeform_fuzz::seeds::seeds(program)?.into_iter().enumerate() {
            std::fs::write(own.join(format!("{number:03}")), bytes)?;
        }
    }
    Ok(())
}

fn main() -> ExitCode {
    let Some(folder) = std::env::args_os().nth(1) else {
        eprintln!("seeds: name the folder, e.g. target/fuzz/seeds");
        return ExitCode::FAILURE;
    };
    match write(folder.into()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("seeds: {e}");
            ExitCode::FAILURE
        }
    }
}
