//! The documents from the user's point of view: what is written can be read, unknown keys are kept, and errors are reported in a sentence.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use bladeform_document::{DocumentError, read_csv, read_json, write_csv, write_json};
use bladeform_quantity::{Hand, Measured};
use bladeform_table::{
    AxisBy, BladeDifference, BladeFigures, BladeRows, BladeVolume, BoltFigures, Flag, Frame, HandBasis,
    HubFigures, KnownLength, Notice, PartRecord, Photograph, Reading, ReadingOf, Readings, Reconciliation,
    RecordText, Repairs, RootSection, RotatingVolume, Rotation, Scale, SectionOutline, SectionPart, Setting,
    SettingOf, Source, Station, StationColumn, StationTable, SystematicPart, UncertaintySource, VolumeSource,
};
use proptest::prelude::*;

const BY_HAND: &str = r#"{
  "blade": {"radius_m": 1.32},
  "stations": [
    {"radius_m": 0.4, "chord_m": 0.14, "blade_angle_deg": 35.0, "thickness_ratio": 0.15, "camber_ratio": 0.04},
    {"radius_m": 0.8, "chord_m": 0.15, "blade_angle_deg": 22.5,
     "outline": {"x": [0.0, 0.15, 0.07], "y": [0.0, 0.0, 0.015]}}
  ]
}"#;

fn json(table: &StationTable) -> String {
    let mut bytes = Vec::new();
    write_json(table, &mut bytes).unwrap();
    String::from_utf8(bytes).unwrap()
}

fn csv(table: &StationTable) -> String {
    let mut bytes = Vec::new();
    write_csv(table, &mut bytes).unwrap();
    String::from_utf8(bytes).unwrap()
}

fn refusal(text: &str) -> String {
    read_json(text.as_bytes()).unwrap_err().to_string()
}

/// The table written by hand with one text replaced. The text must be present.
fn spoilt(old: &str, new: &str) -> String {
    assert!(BY_HAND.contains(old), "`{old}` is not in the table");
    refusal(&BY_HAND.replacen(old, new, 1))
}

/// The axis of a propeller of two, with its volume.
fn rotation() -> Rotation {
    let of_blade = BladeVolume { volume_m3: 0.011, first_moment_m4: 0.0036, u_first_moment_m4: 1e-7 };
    Rotation {
        axis_by: AxisBy::HubWall,
        u_axis_tilt_deg: Some(0.003),
        u_axis_place_m: Some(2e-5),
        raised_to_scatter: [(StationColumn::ChordM, 1.25)].into(),
        volume: Some(RotatingVolume {
            volume_m3: 0.0225,
            first_moment_m4: [1e-6, -2e-6],
            u_from: vec![(VolumeSource::Holes, [0.0, 1e-8]), (VolumeSource::Axis, [4.5e-7; 2])],
            closed_ratio: 0.01,
            bodies: 1,
            blades: vec![of_blade; 2],
            ..RotatingVolume::default()
        }),
        ..Rotation::default()
    }
}

/// A table with everything in it.
fn full() -> StationTable {
    let mut station = Station::at(0.6, 1.2);
    for (k, column) in StationColumn::FIGURES.iter().enumerate().skip(2) {
        column.set_measured(&mut station, Some(Measured::new(0.01 * (k as f64 + 1.0), 0.001)));
    }
    (station.points, station.residual_rms_m) = (Some(812.0), Some(2.5e-5));
    station.flags =
        vec![Flag::Bridged { gaps: 1, length_m: 0.004, share: 0.01 }, Flag::read("by hand: two | parts")];
    station.outline = Some(SectionOutline::from_points(&[[0.0, 0.0], [0.12, 0.001], [0.05, 0.01]]));
    let refused = Station::refused(0.9, 1.2, "the cut is empty");
    let stations = vec![station, refused];
    let mut repairs = Repairs { duplicate_vertices: 3, ..Repairs::default() };
    repairs.count("closed_holes", 2);
    let mut record = PartRecord::default();
    record.set(RecordText::Title, "Port blade");
    record.set(RecordText::AccessionNumber, "1931.4");
    let extra = [("lens".to_owned(), 50.into())].into_iter().collect();
    record.photographs = vec![
        Photograph {
            file: "photographs/back.jpg".to_owned(),
            sha256: "ab12".to_owned(),
            caption: "The back".to_owned(),
            extra,
        },
        Photograph { file: "face.png".to_owned(), ..Photograph::default() },
    ];
    StationTable {
        record,
        source: Some(Source { file: "blade.stl".into(), triangles: Some(2_000_000), ..Source::default() }),
        scale: Some(Scale {
            metres_per_unit: Some(0.001),
            basis: "known length".into(),
            known_lengths: vec![KnownLength {
                between: Some([[0.0, 1.5, -2.0], [250.0, 1.5, -2.0]]),
                stated_m: 0.25,
                u_m: 1e-4,
                by_scale_m: 0.2501,
                difference_m: -1e-4,
                ..KnownLength::default()
            }],
            chi_square: Some(1.25),
            degrees_of_freedom: Some(1),
            birge_ratio: Some(2.5),
            ..Scale::default()
        }),
        frame: Some(Frame {
            scan_to_blade: Some([
                [1e-3, 0.0, 0.0, -512.25],
                [0.0, 1e-3, 0.0, 0.0],
                [0.0, 0.0, 1e-3, 0.125],
                [0.0, 0.0, 0.0, 1.0],
            ]),
            method: "shank".into(),
            hand: Hand::Left,
            hand_certain: true,
            hand_basis: Some(HandBasis::Given),
            ..Frame::default()
        }),
        blade: BladeFigures {
            radius_m: 1.2,
            blades_in_scan: Some(2),
            setting: Some(Setting {
                angle_deg: 22.5,
                radius_ratio: 0.75,
                of: SettingOf::Face,
                extra: Default::default(),
            }),
            ..BladeFigures::default()
        },
        repairs: Some(repairs),
        root_sections: vec![
            RootSection {
                radius_m: 0.2,
                closed: true,
                outline: SectionOutline::from_points(&[[0.02, 0.0], [0.0, 0.03], [-0.02, -0.03]]),
                ..RootSection::default()
            },
            RootSection {
                radius_m: 0.3,
                outline: SectionOutline::from_points(&[[0.02, 0.0], [0.0, 0.03], [-0.02, -0.03]]),
                ..RootSection::default()
            },
        ],
        hub: Some(HubFigures {
            diameter_m: Some(Measured::new(0.16, 0.0002)),
            bore_diameter_m: Some(Measured::new(0.05, 0.0001)),
            bolts: Some(BoltFigures {
                count: 8,
                seen: 6,
                closed: 1,
                hole_diameter_m: Measured::new(0.012, 0.0001),
                circle_diameter_m: Measured::new(0.1, 0.0001),
                first_deg: Measured::new(0.0, 0.1),
                extra: serde_json::Map::new(),
            }),
            ..HubFigures::default()
        }),
        blades: vec![BladeRows {
            index: 1,
            azimuth_deg: Some(0.0),
            tip_radius_m: Some(1.1995),
            u_tip_radius_m: Some(5e-4),
            stations: stations.clone(),
            ..BladeRows::default()
        }],
        rotation: Some(rotation()),
        blade_differences: vec![BladeDifference {
            index: 1,
            track_m: Some(-0.002),
            ..BladeDifference::default()
        }],
        stations,
        warnings: vec![Notice::read("the scale rests on one length")],
        ..StationTable::default()
    }
}

#[test]
fn a_table_by_hand_is_read() {
    let table = read_json(BY_HAND.as_bytes()).unwrap();
    assert!(table.angles_are_relative() && table.source.is_none());
    assert_eq!((table.hand(), table.blade.reference_radius_ratio), (Hand::Right, 0.75));
    assert_eq!(table.stations[0].camber_ratio, Some(0.04));
    assert!((table.stations[1].radius_ratio - 0.8 / 1.32).abs() < 1e-15);
    assert_eq!(table.stations[1].outline.as_ref().unwrap().points().nth(1), Some([0.15, 0.0]));
    let with_mark = format!("\u{feff}{BY_HAND}");
    assert_eq!(read_json(with_mark.as_bytes()).unwrap(), table);
}

#[test]
fn the_full_table_reads_back_and_is_written_with_the_same_bytes() {
    let text = json(&full());
    let read = read_json(text.as_bytes()).unwrap();
    assert_eq!(read, full());
    assert_eq!(json(&read), text);
}

#[test]
fn keys_stand_in_the_order_of_the_contract() {
    let text = json(&full());
    let keys = [
        "schema",
        "source",
        "scale",
        "frame",
        "blade",
        "repairs",
        "stations",
        "root_sections",
        "hub",
        "blades",
        "blade_differences",
        "warnings",
    ];
    let places: Vec<usize> = keys.iter().map(|key| text.find(&format!("\n  \"{key}\": ")).unwrap()).collect();
    assert!(places.is_sorted(), "{places:?}");
    let station_keys = ["face_pitch_m", "u", "points", "residual_rms_m", "flags", "outline"];
    let places: Vec<usize> =
        station_keys.iter().map(|key| text.find(&format!("\n      \"{key}\": ")).unwrap()).collect();
    assert!(places.is_sorted(), "{places:?}");
}

#[test]
fn outlines_stand_on_one_line_and_a_refused_station_is_all_null() {
    let text = json(&full());
    assert!(text.contains("\"x\": [0.0, 0.12, 0.05],\n"), "{text}");
    assert!(text.contains("\"points\": 812,\n"));
    let refused = text.split("\"radius_m\": 0.9").nth(1).unwrap();
    assert!(refused.contains("\"chord_m\": null") && refused.contains("\"outline\": null"));
    assert!(refused.contains("\"refused: the cut is empty\""));
}

#[test]
fn sections_of_the_root_are_checked_as_those_of_stations() {
    let bad = |change: &dyn Fn(&mut StationTable)| {
        let mut table = full();
        change(&mut table);
        read_json(json(&table).as_bytes()).unwrap_err().to_string()
    };
    let order = bad(&|t| t.root_sections[1].radius_m = 0.2);
    assert!(order.contains("root_sections[1].radius_m is 0.2 after 0.2"), "{order}");
    let beyond = bad(&|t| t.root_sections[1].radius_m = 1.3);
    assert!(beyond.contains("root_sections[1].radius_m is 1.3, beyond the tip"), "{beyond}");
    let counts = bad(&|t| t.root_sections[0].outline.x.truncate(2));
    assert!(counts.contains("root_sections[0].outline has 2 x and 3 y"), "{counts}");
    let hub = bad(&|t| t.hub.as_mut().unwrap().diameter_m = Some(Measured::new(-0.16, 0.0)));
    assert!(hub.contains("hub.diameter_m must be greater than zero"), "{hub}");
    let bolts =
        |change: &dyn Fn(&mut BoltFigures)| bad(&|t| change(t.hub.as_mut().unwrap().bolts.as_mut().unwrap()));
    let count = bolts(&|b| b.count = 1_000_000_000_000);
    assert!(count.contains("hub.bolts.count must be a number of holes from 2 to 36"), "{count}");
    let seen = bolts(&|b| b.seen = 8);
    assert!(seen.contains("hub.bolts.seen must not be more than"), "{seen}");
}

#[test]
fn figures_lose_no_more_than_the_eleventh_digit_and_the_map_keeps_its_large_translation() {
    let mut table = full();
    table.stations[0].chord_m = Some(0.123_456_789_012_345);
    table.frame.as_mut().unwrap().scan_to_blade.as_mut().unwrap()[1][3] = 5_123_456.123_456_7;
    let read = read_json(json(&table).as_bytes()).unwrap();
    assert_eq!(read.stations[0].chord_m, Some(0.123_456_789_0));
    let northing = read.frame.unwrap().scan_to_blade.unwrap()[1][3];
    assert!((northing - 5_123_456.123_456_7).abs() < 1e-7, "{northing}");
}

#[test]
fn unknown_keys_are_kept_at_every_level() {
    let mut value: serde_json::Value = serde_json::from_str(&json(&full())).unwrap();
    let levels = [
        "",
        "/source",
        "/scale",
        "/frame",
        "/blade",
        "/blade/setting",
        "/repairs",
        "/stations/0",
        "/stations/0/u",
        "/stations/0/outline",
        "/root_sections/0",
        "/root_sections/1/outline",
        "/hub",
        "/blades/0",
        "/blades/0/stations/0",
        "/blade_differences/0",
        "/blade_differences/0/u",
    ];
    for (k, level) in levels.iter().enumerate() {
        let object = value.pointer_mut(level).unwrap().as_object_mut().unwrap();
        object.insert(format!("their_key_{k}"), serde_json::json!({"deep": [k, "kept", 0.1]}));
    }
    let written = json(&read_json(value.to_string().as_bytes()).unwrap());
    assert_eq!(serde_json::from_str::<serde_json::Value>(&written).unwrap(), value);
    assert_eq!(json(&read_json(written.as_bytes()).unwrap()), written);
}

#[test]
fn what_is_wrong_is_told_with_its_place_and_its_path() {
    let cases = [
        (
            "\"chord_m\": 0.14",
            "\"chord_m\": \"wide\"",
            "line 4, column 34: stations[0].chord_m is the text `wide` where a number or null is needed",
        ),
        (
            "0.8, \"chord_m\"",
            "0.4, \"chord_m\"",
            "line 5, column 18: stations[1].radius_m is 0.4 after 0.4; radii must increase from station to station",
        ),
        (
            "\"radius_m\": 0.8",
            "\"radius_m\": 1.8",
            "line 5, column 18: stations[1].radius_m is 1.8, beyond the tip at blade.radius_m = 1.32",
        ),
        (
            "0.15, 0.07]",
            "0.15]",
            "line 6, column 17: stations[1].outline has 2 x and 3 y; every point needs both",
        ),
        (
            "[0.0, 0.15,",
            "[0.0, null,",
            "line 6, column 29: stations[1].outline.x[1] is null where a number is needed",
        ),
        (
            "\"chord_m\": 0.15, ",
            "",
            "line 5, column 5: stations[1].chord_m is missing; a station needs radius_m",
        ),
        (
            ", \"camber_ratio\": 0.04",
            "",
            "line 4, column 5: stations[0].outline is missing; a station needs radius_m",
        ),
        (
            "\"radius_m\": 1.32",
            "\"radius_m\": 0",
            "line 2, column 25: blade.radius_m is 0; the radius of the tip in metres, above 0",
        ),
        ("\"radius_m\": 1.32", "", "line 2, column 12: blade.radius_m is missing"),
        (
            "\"thickness_ratio\": 0.15",
            "\"thickness_ratio\": 15",
            "stations[0].thickness_ratio is 15; a fraction of the chord is needed, e.g. 0.12",
        ),
        (
            "35.0",
            "35.0, \"radius_ratio\": 0.9",
            "stations[0].radius_ratio is 0.9, but radius_m / blade.radius_m is 0.3030",
        ),
        ("35.0", "35.0, \"u\": {\"chord_m\": -1}", "stations[0].chord_m has the standard uncertainty -1"),
        ("35.0", "35.0, \"points\": 2.5", "stations[0].points is 2.5 where a whole number from 0 on"),
        ("35.0", "35.0, \"flags\": [1]", "stations[0].flags[0] is 1 where a text is needed"),
        (
            "{\"radius_m\": 1.32}",
            "{\"radius_m\": 1.32}, \"frame\": {\"hand\": \"up\"}",
            "frame.hand is `up`; write right or left",
        ),
        (
            "{\"radius_m\": 1.32}",
            "{\"radius_m\": 1.32}, \"frame\": {\"scan_to_blade\": [[1]]}",
            "frame.scan_to_blade is not 4 rows of 4 numbers",
        ),
        (
            "{\"radius_m\": 1.32}",
            "{\"radius_m\": 1.32, \"setting\": 5}",
            "blade.setting is 5 where an object { ... } is needed",
        ),
    ];
    for (old, new, expected) in cases {
        let message = spoilt(old, new);
        assert!(message.contains(expected), "{message}\ninstead of\n{expected}");
    }
}

#[test]
fn other_files_are_refused_in_a_sentence() {
    assert_eq!(
        refusal("{\"schema\": \"somebody.else/3\"}"),
        "line 1, column 12: schema is `somebody.else/3`, and only `bladeform.stations/1` can be read; is this another kind of file?"
    );
    assert_eq!(
        refusal("{\n  \"blade\": }"),
        "line 2, column 12: this is not JSON: expected value; correct the file there or write it again"
    );
    assert!(refusal("").starts_with("line 1, column 1: this is not JSON"));
    assert!(
        refusal("[1]").contains("line 1, column 1: the file is an array where an object { ... } is needed")
    );
    assert!(refusal("{\"blade\": {\"radius_m\": 1}}").contains("stations has no station"));
    assert!(matches!(read_json(b"{\"\xff\"}"), Err(DocumentError::NotText { byte: 2 })));
    assert!(refusal(&"[".repeat(100_000)).contains("not JSON"));
    assert!(spoilt("1.32", "1e400").contains("number out of range"));
}

#[test]
fn every_prefix_of_a_file_is_refused_without_a_panic() {
    let text = json(&full());
    let end = text.trim_end().len();
    for cut in (0..end).step_by(7).chain([end - 1]) {
        assert!(read_json(&text.as_bytes()[..cut]).is_err(), "cut at {cut}");
    }
}

#[test]
fn a_table_in_memory_is_checked_as_one_that_is_read() {
    full().check().unwrap();
    let mut table = full();
    table.stations.swap(0, 1);
    assert_eq!(
        table.check().unwrap_err().to_string(),
        "stations[1].radius_m is 0.6 after 0.9; radii must increase from station to station"
    );
    let mut table = full();
    table.stations[0].chord_m = Some(f64::NAN);
    assert!(table.check().unwrap_err().to_string().contains("stations[0].chord_m is not a finite number"));
}

#[test]
fn csv_has_the_keys_as_headings_and_reads_back() {
    let text = csv(&full());
    let headings: Vec<&str> = text.lines().next().unwrap().split(',').collect();
    assert_eq!(&headings[..3], ["radius_m", "radius_ratio", "chord_m"]);
    assert_eq!(headings[19..21], ["u_radius_m", "u_radius_ratio"]);
    assert_eq!(headings[38..], ["points", "residual_rms_m", "flags"]);
    let read = read_csv(text.as_bytes(), None).unwrap();
    let mut expected = full().stations;
    expected[0].outline = None;
    // A flag separator inside a sentence is replaced.
    expected[0].flags[1] = Flag::read("by hand: two / parts");
    assert_eq!(read.stations, expected);
    assert!((read.blade.radius_m - 1.2).abs() < 1e-12);
    assert_eq!(csv(&read), text);
}

#[test]
fn csv_keeps_unknown_columns() {
    let text = "radius_m,station_name,chord_m,blade_angle_deg,thickness_ratio,camber_ratio,drawing\n\
        0.4,007,0.1,20,0.1,0.02,12.5\n0.6,tip,0.1,,0.1,0.02,\n";
    let read = read_csv(text.as_bytes(), Some(1.0)).unwrap();
    assert_eq!((read.stations[0].radius_ratio, read.stations[1].blade_angle_deg), (0.4, None));
    let again = csv(&read);
    assert!(again.lines().next().unwrap().ends_with(",flags,station_name,drawing"), "{again}");
    assert!(again.contains(",007,12.5\n") && again.contains(",tip,\n"), "{again}");
    assert_eq!(read_csv(again.as_bytes(), Some(1.0)).unwrap(), read);
}

#[test]
fn what_is_wrong_with_a_csv_is_told_with_its_line() {
    let head = "radius_m,chord_m,blade_angle_deg,thickness_ratio,camber_ratio";
    let cases = [
        (format!("{head}\n0.4,0.1,20,0.1,0.02\n0.3,0.1,20,0.1,0.02\n"), "line 3: radius_m is 0.3 after 0.4"),
        (format!("{head}\n0.4,0.1,20,0.1\n"), "line 2: the row has 4 cells and the headings are 5"),
        (format!("{head}\n,0.1,20,0.1,0.02\n"), "line 2: radius_m is empty"),
        (format!("{head},{}\n", "x".repeat(65)), "line 1: the heading `xxx"),
        (format!("{head},chord_m\n"), "line 1: the heading `chord_m` occurs twice"),
        (
            "radius_m;chord_m\n0.4;0.1\n".to_owned(),
            "line 1: the headings are separated by semicolons or tabs; separate the columns by commas",
        ),
        (format!("{head}\n0.4,nan,20,0.1,0.02\n"), "line 2: chord_m is `nan` where a number"),
        (format!("{head}\n"), "line 1: there is no row below the headings"),
        // Line ends of a spreadsheet.
        (format!("{head}\r\n0.3,0.1,20,0.1,0.02\r\n0.4,wide,20,0.1,0.02\r\n"), "line 3: chord_m is `wide`"),
    ];
    for (text, expected) in cases {
        let message = read_csv(text.as_bytes(), Some(1.0)).unwrap_err().to_string();
        assert!(message.contains(expected), "{message}\ninstead of\n{expected}");
    }
    let unknown_tip =
        read_csv(format!("{head}\n0.4,0.1,20,0.1,0.02\n").as_bytes(), None).unwrap_err().to_string();
    assert!(unknown_tip.contains("the tip radius is not known"), "{unknown_tip}");
}

/// The figures in thousandths, the uncertainties in ten-millionths, the points, the flags, and whether there is an outline.
type StationParts = (Vec<Option<i32>>, Vec<Option<u32>>, Option<u32>, Vec<String>, bool);

/// A station whose figures have few digits, so that nothing is lost in writing. Some of them are missing.
fn any_station() -> impl Strategy<Value = StationParts> {
    (
        proptest::collection::vec(proptest::option::of(-900_i32..900), 17),
        proptest::collection::vec(proptest::option::of(0_u32..900_000), 19),
        proptest::option::of(0_u32..100_000),
        proptest::collection::vec("\\PC{1,20}", 0..3),
        any::<bool>(),
    )
}

fn station_of(index: usize, n: usize, parts: StationParts) -> Station {
    let (figures, us, points, flags, has_outline) = parts;
    let ratio = ((index + 1) as f64 / n as f64 * 1000.0).round() / 1000.0;
    let mut station = Station { radius_m: ratio, radius_ratio: ratio, ..Station::default() };
    for (column, figure) in StationColumn::FIGURES.iter().skip(2).zip(figures) {
        column.set(&mut station, figure.map(|v| f64::from(v) / 1000.0));
    }
    station.chord_m = station.chord_m.map(|chord| if chord == 0.0 { 0.001 } else { chord.abs() });
    station.thickness_ratio = station.thickness_ratio.map(f64::abs);
    for (column, u) in StationColumn::FIGURES.iter().zip(us) {
        column.set_u(&mut station, u.map(|v| f64::from(v) / 1e7));
    }
    station.points = points.map(f64::from);
    station.flags = flags.iter().map(|text| Flag::read(text)).collect();
    station.outline =
        has_outline.then(|| SectionOutline::from_points(&[[0.0, 0.0], [0.1, 1e-8], [0.05, -0.012_345_67]]));
    station
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_table_reads_back_from_json(rows in proptest::collection::vec(any_station(), 1..8)) {
        let n = rows.len();
        let stations = rows.into_iter().enumerate().map(|(k, parts)| station_of(k, n, parts)).collect();
        let blade = BladeFigures { radius_m: 1.0, ..BladeFigures::default() };
        let table = StationTable { blade, stations, ..StationTable::default() };
        let text = json(&table);
        let read = read_json(text.as_bytes()).unwrap();
        prop_assert_eq!(&read, &table);
        prop_assert_eq!(json(&read), text);
    }

    #[test]
    fn one_changed_byte_never_panics(place in 0_usize..10_000, byte: u8) {
        let mut bytes = json(&full()).into_bytes();
        let place = place % bytes.len();
        bytes[place] = byte;
        if let Ok(table) = read_json(&bytes) {
            table.check().unwrap();
        }
        let mut bytes = csv(&full()).into_bytes();
        let place = place % bytes.len();
        bytes[place] = byte;
        if let Ok(table) = read_csv(&bytes, None) {
            table.check().unwrap();
        }
    }
}

#[test]
fn budget_departures_and_near_sections_come_back_with_keys_that_are_not_known() {
    let text = r#"{"schema": "bladeform.stations/1", "blade": {"radius_m": 1.0}, "stations": [{
        "radius_m": 0.5, "chord_m": 0.1, "blade_angle_deg": 20.0, "thickness_ratio": 0.1, "camber_ratio": 0.03,
        "u_from": {"chord_m": {"scan": 0.0003, "moon": 0.0004}, "colour": {"scan": 1.0}},
        "departures": {"leading_edge": {"rms_m": 0.0002, "largest_m": -0.001, "position": 0.02, "side": 1}, "spar": {"rms_m": 1.0}},
        "near_sections": [{"section": "Clark Y", "rms_m": 0.0001, "within_noise": true, "year": 1922}]
    }]}"#;
    let table = read_json(text.as_bytes()).unwrap();
    let station = &table.stations[0];
    assert!((station.budget.part(StationColumn::ChordM, UncertaintySource::Scan) - 3e-4).abs() < 1e-15);
    assert_eq!(station.departures.parts[&SectionPart::LeadingEdge].largest_m, Some(-0.001));
    assert_eq!(station.near_sections[0].within_noise, Some(true));
    let mut written = Vec::new();
    write_json(&table, &mut written).unwrap();
    let again = String::from_utf8(written).unwrap();
    for kept in ["moon", "colour", "side", "spar", "year"] {
        assert!(again.contains(&format!("\"{kept}\"")), "{kept} was lost");
    }
    assert_eq!(read_json(again.as_bytes()).unwrap(), table);
}

#[test]
fn readings_by_hand_keep_their_keys_with_units_and_unknown_ones() {
    let thickness = Reading::new(ReadingOf::Thickness, 0.0248, Some(2e-4), 0.6);
    let thickness = Reading {
        scan: Some(0.0242),
        u_scan: Some(1e-4),
        difference: Some(6e-4),
        u_difference: Some(2.2e-4),
        difference_over_u: Some(2.7),
        ..thickness
    };
    let length = Reading { to_radius_m: Some(0.9), ..Reading::new(ReadingOf::Length, 0.512, None, 0.3) };
    let angle = Reading::new(ReadingOf::FaceAngle, 23.5, None, 0.6);
    let part = |part, amount| Reconciliation {
        part,
        amount,
        u_amount: 1e-4,
        chi_square_left: 0.5,
        extra: Default::default(),
    };
    let readings = Readings {
        rows: vec![thickness, length, angle],
        chi_square: Some(7.4),
        degrees_of_freedom: 1,
        contradict: true,
        parts: vec![part(SystematicPart::Offset, 3e-4), part(SystematicPart::Scale, 0.02)],
        ..Readings::default()
    };
    let table = StationTable { readings: Some(readings), ..full() };
    let text = json(&table);
    for key in [
        "\"of\": \"thickness\"",
        "\"reading_m\": 0.0248",
        "\"u_is_assumed\": true",
        "\"reading_deg\": 23.5",
        "\"amount_m\": 0.0003",
        "\"amount_ratio\": 0.02",
    ] {
        assert!(text.contains(key), "{key} is missing in {text}");
    }
    assert_eq!(read_json(text.as_bytes()).unwrap(), table);
    let known = "\"chi_square\": 7.4,";
    let foreign = text
        .replacen("\"amount_m\": 0.0003,", "\"amount_m\": 0.0003, \"seen\": 1,", 1)
        .replacen("\"u_is_assumed\": false,", "\"u_is_assumed\": false, \"tool\": \"calipers 3\",", 1)
        .replacen(known, &format!("{known} \"by\": \"the workshop\","), 1);
    let read = read_json(foreign.as_bytes()).unwrap();
    let once = json(&read);
    assert!(["\"seen\": 1", "calipers 3", "the workshop"].iter().all(|kept| once.contains(kept)), "{once}");
    assert_eq!(json(&read_json(once.as_bytes()).unwrap()), once);
    let wrong = text.replacen("\"of\": \"thickness\"", "\"of\": \"girth\"", 1);
    assert!(refusal(&wrong).contains("readings.rows[0].of is `girth`; write one of thickness, chord"));
}

#[test]
fn texts_of_a_table_do_not_become_formulas_of_a_spreadsheet() {
    let json = r#"{"blade": {"radius_m": 1.0}, "stations": [{"radius_m": 0.5, "chord_m": 0.16, "blade_angle_deg": 30.0,
        "thickness_ratio": 0.1, "camber_ratio": 0.02, "flags": ["=HYPERLINK(\"http://x\")"], "note": "@SUM(A1)", "=key": "-1+1"}]}"#;
    let table = bladeform_document::read_table(json.as_bytes(), None).unwrap();
    let mut csv = Vec::new();
    write_csv(&table, &mut csv).unwrap();
    let text = String::from_utf8(csv.clone()).unwrap();
    for guarded in ["'=HYPERLINK", "'@SUM(A1)", "'=key", "'-1+1"] {
        assert!(text.contains(guarded), "{text}");
    }
    let back = read_csv(&csv, Some(1.0)).unwrap();
    assert_eq!(back.stations[0].extra, table.stations[0].extra);
    assert_eq!(back.stations[0].flags[0].text(), table.stations[0].flags[0].text());
}
