//! The mean over several scans on a terminal.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use bladeform_table::{
    BladeFigures, Source, Station, StationColumn, StationTable, UncertaintySource, mean_of_repeats,
};
use bladeform_words::render;

#[test]
fn the_scans_their_scatter_and_the_verdict_are_shown() {
    let scan = |file: &str, chord_m: f64| {
        let mut s = Station { chord_m: Some(chord_m), ..Station::at(0.5, 1.0) };
        s.add_uncertainty(StationColumn::ChordM, UncertaintySource::Scan, 5e-4);
        StationTable {
            source: Some(Source { file: file.to_owned(), ..Source::default() }),
            blade: BladeFigures { radius_m: 1.0, ..BladeFigures::default() },
            stations: vec![s],
            ..StationTable::default()
        }
    };
    let text = render(&mean_of_repeats(&[scan("a.ply", 0.1), scan("b.ply", 0.1004)]).unwrap());
    let expected = "\
Mean over 2 scans: a.ply, b.ply
  quantity  unit  scatter  stated u  ratio  limit  verdict
     chord    mm     0.28      0.50   0.57   1.96  agree
Scatter: ";
    assert!(text.contains(expected), "{text}");
    assert!(text.contains("Verdict: the scans agree within their stated uncertainty.\n"), "{text}");
    let text = render(&mean_of_repeats(&[scan("a.ply", 0.1), scan("b.ply", 0.104)]).unwrap());
    assert!(text.contains("     chord    mm     2.83      0.50   5.66   1.96  differ, u raised\n"), "{text}");
    assert!(
        text.contains("Verdict: the scans do not agree within their stated uncertainty in chord."),
        "{text}"
    );
    assert!(
        text.contains("Warning: (repeats-disagree) chord differs between the scans by 5.7 times"),
        "{text}"
    );
}
