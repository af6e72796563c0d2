//! Inputs that the fuzzer kept because each reaches code that no other does, and those that once did harm.

use std::path::Path;

#[test]
fn every_kept_input_is_read_or_refused() {
    for (name, reader) in bladeform_fuzz::READERS {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus").join(name);
        let files: Vec<_> = std::fs::read_dir(&folder)
            .unwrap_or_else(|e| panic!("{}: {e}", folder.display()))
            .map(|entry| entry.unwrap().path())
            .collect();
        assert!(!files.is_empty(), "{name} has no input");
        let taken = files.iter().filter(|file| reader(&std::fs::read(file).unwrap())).count();
        println!("{name}: {} inputs, {taken} taken", files.len());
        assert!(0 < taken && taken < files.len(), "{name}: of {} inputs {taken} were taken", files.len());
    }
}
