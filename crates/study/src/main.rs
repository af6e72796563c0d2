//! Studies of the main job: each prints its command line and its figures, with their goals, as Markdown tables.
//!
#![doc = concat!("```text\n", include_str!("usage.txt"), "```")]

mod accuracy;
mod calibration;
mod damaged;
mod departures;
mod hostile;
mod markdown;
mod photographed;
mod propellers;
mod scale;
mod series;
mod speed;
mod tally;

use std::path::Path;
use std::process::ExitCode;

/// The studies, as they are named on the command line.
const STUDIES: [&str; 11] = [
    "accuracy",
    "propellers",
    "calibration",
    "photographed",
    "bound",
    "damaged",
    "departures",
    "hostile",
    "scale",
    "screws",
    "speed",
];

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let which = arguments.next().unwrap_or_default();
    let rest: Vec<String> = arguments.collect();
    if rest.iter().chain([&which]).any(|a| ["--help", "-h"].contains(&a.as_str())) {
        use std::io::Write as _;
        // A closed output wants no help.
        let _ = write!(std::io::stdout(), "{}", include_str!("usage.txt"));
        return ExitCode::SUCCESS;
    }
    if STUDIES.contains(&which.as_str()) {
        use std::io::Write as _;
        let line = std::iter::once(which.clone()).chain(rest.iter().cloned()).collect::<Vec<_>>().join(" ");
        // A closed output is reported by the study itself.
        let _ = writeln!(std::io::stdout(), "`cargo run --release -p bladeform-study --bin study -- {line}`");
    }
    let number = |k: usize, default: usize| rest.get(k).and_then(|a| a.parse().ok()).unwrap_or(default);
    let done = match which.as_str() {
        "accuracy" => accuracy::run(number(0, 20), number(1, 650_000), number(2, 0) as u64),
        "propellers" => propellers::run(number(0, 2), number(1, 400_000), number(2, 0) as u64),
        "calibration" => calibration::run(number(0, 200), number(1, 200_000), number(2, 0) as u64),
        "photographed" => photographed::run(
            number(0, 200),
            number(1, 2_000_000),
            number(2, 0) as u64,
            rest.get(3).map(Path::new),
            rest.get(4).map_or("", String::as_str),
        ),
        "bound" => calibration::run_bound(number(0, 30), number(1, 200_000), number(2, 0) as u64),
        "damaged" => damaged::run(number(0, 2), number(1, 0) as u64),
        "departures" => departures::run(number(0, 5), number(1, 200_000), number(2, 0) as u64),
        "hostile" => hostile::run(number(0, 2), number(1, 0) as u64, rest.get(2).map_or("", String::as_str)),
        "scale" => scale::run(number(0, 40), number(1, 200_000), number(2, 0) as u64),
        "screws" => series::run(
            number(0, 2),
            number(1, 650_000),
            rest.get(2).and_then(|a| a.parse().ok()).unwrap_or(0.2),
            number(3, 0) as u64,
            rest.get(4).map(Path::new),
        ),
        "speed" => speed::run(rest.first().map_or("", String::as_str)),
        "measure-once" => speed::measure_once(
            rest.first().map_or("", String::as_str),
            rest.get(1).map_or("", String::as_str),
        ),
        _ => Err(std::io::Error::other(format!("name a study: {}", STUDIES.join(", ")))),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            use std::io::Write as _;
            // Nothing can be reported when standard error is closed.
            let _ = writeln!(std::io::stderr(), "study: {e}");
            ExitCode::FAILURE
        }
    }
}
