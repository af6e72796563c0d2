//! The mean over several scans in files.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use bladeform_document::{read_csv, read_json, write_csv, write_json};
use bladeform_table::{
    BladeFigures, Source, Station, StationColumn, StationTable, UncertaintySource, mean_of_repeats,
};

fn mean() -> StationTable {
    let scan = |file: &str, chord_m: f64| {
        let mut s = Station { chord_m: Some(chord_m), blade_angle_deg: Some(30.0), ..Station::at(0.5, 1.0) };
        (s.thickness_ratio, s.camber_ratio) = (Some(0.1), Some(0.03));
        s.add_uncertainty(StationColumn::ChordM, UncertaintySource::Scan, 5e-4);
        StationTable {
            source: Some(Source { file: file.to_owned(), sha256: file.repeat(2), ..Source::default() }),
            blade: BladeFigures { radius_m: 1.0, ..BladeFigures::default() },
            stations: vec![s],
            ..StationTable::default()
        }
    };
    mean_of_repeats(&[scan("a", 0.1), scan("b", 0.104)]).unwrap()
}

fn json(table: &StationTable) -> String {
    let mut bytes = Vec::new();
    write_json(table, &mut bytes).unwrap();
    String::from_utf8(bytes).unwrap()
}

#[test]
fn repeats_and_scatter_read_back_and_unknown_keys_are_kept() {
    let text = json(&mean());
    assert!(text.contains("\"quantity\": \"chord_m\", \"scatter\": 0.002828427125"), "{text}");
    assert!(
        text.contains("\"verdict\": \"raised\"") && text.contains("\"repeats\": 0.001968501969"),
        "{text}"
    );
    let read = read_json(text.as_bytes()).unwrap();
    assert_eq!(json(&read), text);
    let raised: Vec<_> = read.repeats.unwrap().raised().map(|q| q.column).collect();
    assert_eq!(raised, [StationColumn::ChordM]);
    let more = text.replace("\"verdict\": \"raised\"", "\"verdict\": \"raised\", \"by\": \"hand\"");
    assert_eq!(json(&read_json(more.as_bytes()).unwrap()), more);
}

#[test]
fn a_wrong_quantity_or_verdict_is_named_with_its_place() {
    let text = json(&mean());
    for (old, new, needed) in [
        (
            "\"verdict\": \"raised\"",
            "\"verdict\": \"so-so\"",
            "verdict is `so-so`; write one of agree, raised, not-tested",
        ),
        (
            "\"quantity\": \"chord_m\"",
            "\"quantity\": \"chort\"",
            "quantity is `chort`, which is no figure of a station",
        ),
    ] {
        let error = read_json(text.replace(old, new).as_bytes()).unwrap_err().to_string();
        assert!(error.starts_with("line ") && error.contains(needed), "{error}");
    }
}

#[test]
fn scatter_is_a_column_of_csv_only_where_there_is_some() {
    let mut bytes = Vec::new();
    write_csv(&mean(), &mut bytes).unwrap();
    let read = read_csv(&bytes, None).unwrap();
    let scatter = read.stations[0].scatter.get(StationColumn::ChordM);
    assert!(scatter.is_some_and(|s| (s - 8f64.sqrt() * 1e-3).abs() < 1e-12), "{scatter:?}");
    let mut again = Vec::new();
    write_csv(&read, &mut again).unwrap();
    assert_eq!(bytes, again);
    let mut one = mean();
    one.stations[0].scatter = Default::default();
    let mut without = Vec::new();
    write_csv(&one, &mut without).unwrap();
    assert!(!String::from_utf8(without).unwrap().contains("scatter_"));
}
