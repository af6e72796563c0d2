//! Runs every seed and a few thousand seeded mutations through every reader. None may panic.

use std::panic::{AssertUnwindSafe, catch_unwind};

use bladeform_fuzz::{READERS, mutation::mutated, seeds::seeds};
use bladeform_specimen::Random;

/// Mutations of each reader. A measurement takes some hundredths of a second, the rest microseconds.
fn mutations(program: &str) -> usize {
    if program == "measurement" { 75 } else { 1500 }
}

#[test]
fn every_seed_is_read_or_refused() {
    for (program, reader) in READERS {
        let seeds = seeds(program).unwrap();
        let n_taken = seeds.iter().filter(|(_, bytes)| reader(bytes)).count();
        println!("{program}: {} seeds, {n_taken} taken", seeds.len());
        assert!(20 <= seeds.len(), "{program} has few seeds");
        assert!(
            0 < n_taken && n_taken < seeds.len(),
            "{program}: of {} seeds {n_taken} were taken",
            seeds.len()
        );
        let largest = seeds.iter().map(|(_, bytes)| bytes.len()).max().unwrap();
        assert!(
            largest <= 65_536,
            "{program}: a seed of {largest} bytes is longer than what the fuzzer runs"
        );
    }
}

#[test]
fn no_mutation_of_a_seed_panics() {
    for (program, reader) in READERS {
        let seeds: Vec<Vec<u8>> = seeds(program).unwrap().into_iter().map(|(_, bytes)| bytes).collect();
        // The seed is a constant, so that a failure can be reproduced.
        let mut random = Random::new(1);
        let (mut taken, n) = (0, mutations(program));
        for run in 0..n {
            let bytes = mutated(&mut random, &seeds);
            let Ok(is_taken) = catch_unwind(AssertUnwindSafe(|| reader(&bytes))) else {
                let begin = String::from_utf8_lossy(&bytes[..bytes.len().min(2000)]).into_owned();
                panic!("{program}: mutation {run} panics; it begins with {begin:?}");
            };
            taken += usize::from(is_taken);
        }
        println!("{program}: {n} mutations, {taken} taken");
        assert!(0 < taken && taken < n, "{program}: of {n} mutations {taken} were taken");
    }
}
