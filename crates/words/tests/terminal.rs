//! The table as displayed on a terminal.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use bladeform_quantity::Measured;
use bladeform_table::{
    BladeDifference, BladeFigures, CAUTION, Flag, Frame, Notice, Repairs, Scale, Setting, SettingOf, Source,
    Station, StationColumn, StationTable, columns_as_markdown,
};
use bladeform_words::{TERMINAL_WIDTH, render};

fn station(radius_m: f64, chord_m: f64, angle_deg: f64) -> Station {
    let mut station = Station::at(radius_m, 1.42);
    let mut set =
        |column: StationColumn, value, u| column.set_measured(&mut station, Some(Measured::new(value, u)));
    set(StationColumn::ChordM, chord_m, 0.0002);
    set(StationColumn::BladeAngleDeg, angle_deg, 0.06);
    set(StationColumn::ThicknessRatio, 0.1234, 0.001);
    set(StationColumn::PitchM, 2.151, 0.01);
    station
}

fn table() -> StationTable {
    let mut first = station(0.3, 0.1402, 41.5);
    first.flags =
        vec![Flag::NearlyCircular { thickness_ratio: 0.81 }, Flag::FewPoints { points: 41, needed: 60 }];
    let mut second = station(1.065, 0.1523, 19.25);
    second.camber_ratio = Some(0.0352);
    second.flags = vec![Flag::FewPoints { points: 41, needed: 60 }];
    StationTable {
        source: Some(Source { file: "blade.stl".into(), triangles: Some(51_234), ..Source::default() }),
        scale: Some(Scale {
            metres_per_unit: Some(0.001),
            basis: "the known length of 1.3 m".into(),
            relative_uncertainty: Some(0.0004),
            ..Scale::default()
        }),
        frame: Some(Frame { method: "the shank's own axis".into(), ..Frame::default() }),
        blade: BladeFigures { radius_m: 1.42, activity_factor: Some(101.26), ..BladeFigures::default() },
        repairs: Some(Repairs { duplicate_vertices: 12, ..Repairs::default() }),
        stations: vec![first, Station::refused(0.6, 1.42, "the cut is empty"), second],
        warnings: vec![Notice::read("the root radius is not known and taken as 0")],
        ..StationTable::default()
    }
}

#[test]
fn the_text_is_as_agreed() {
    let expected = "\
Station table of blade.stl, 51234 triangles
Radius 1420.0 mm, activity factor 101.3
Scale: 1 unit of the scan is 0.001000000 m; ± 0.080 % (2 u); the known length of 1.3 m
Hand: right (assumed, not certain)
Axes: the shank's own axis
Setting: none given; blade angles are relative, the chord line at 0.75 R being 0 deg

       r    r/R  chord  ±2u  blade angle   ±2u  face angle    t/c  camber  pitch  flags
      mm      -     mm   mm          deg   deg         deg      %       %      m
   300.0  0.211  140.2  0.4        41.50  0.12           -  12.34       -  2.151  a,b
   600.0  0.423      -    -            -     -           -      -       -      -  c
  1065.0  0.750  152.3  0.4        19.25  0.12           -  12.34    3.52  2.151  b

a: nearly-circular, 0.21 R: thickness is 81 % of the chord, so the chord line has little meaning
    here. Chord, angles and camber are not given; use thickness and longest chord
b: few-points, 2 stations, 0.21 to 0.75 R: the outline is based on 41 points, fewer than the 60 that
    its figures need. The figures are rough; use a finer scan
c: refused, 0.42 R: the cut is empty
Warning: the root radius is not known and taken as 0.
Repairs before measuring: duplicate vertices 12
A measured or rebuilt propeller is not an airworthy one. Do not run a printed, cut or rebuilt copy,
    not even on the ground: a root, a glue line, wood, a bad balance or too high a speed kills
    people nearby, with screws and models too. The authority's rules and licensed practice decide.
";
    assert_eq!(render(&table()), expected);
}

#[test]
fn a_setting_and_the_blades_of_a_propeller_are_told() {
    let mut table = table();
    table.blade.setting =
        Some(Setting { angle_deg: 22.5, radius_ratio: 1.0, of: SettingOf::Face, extra: Default::default() });
    table.blade_differences = vec![BladeDifference {
        index: 2,
        mean_blade_angle_difference_deg: Some(-0.25),
        track_m: Some(0.0012),
        ..Default::default()
    }];
    let text = render(&table);
    assert!(text.contains("Setting: 22.50 deg at the tip, angle of the face\n"), "{text}");
    assert!(text.contains("Blade 3 from the mean: blade angle -0.25 deg, track 1.20 mm\n"), "{text}");
}

#[test]
fn long_texts_are_broken_and_control_characters_do_not_reach_the_terminal() {
    let mut table = table();
    table.warnings = vec![Notice::read(&"word ".repeat(60)), Notice::read("\u{1b}[31mred\nline")];
    table.stations[0].flags = (0..30).map(|k| Flag::read(&format!("seen-{k}: remark"))).collect();
    let text = render(&table);
    assert!(text.contains("Warning: ?[31mred?line.\n") && !text.contains('\u{1b}'));
    let longest =
        text.lines().filter(|line| !line.contains("a,b,c")).map(|line| line.chars().count()).max().unwrap();
    assert!(longest <= TERMINAL_WIDTH, "{longest}");
    assert!(text.contains("\nad: seen-29: remark (0.21 R)\n"), "{text}");
    assert!(text.replace("\n    ", " ").contains(CAUTION));
}

#[test]
fn the_documentation_of_the_columns_comes_from_the_columns() {
    let text = columns_as_markdown();
    assert_eq!(text.lines().count(), 2 + StationColumn::all().count());
    assert!(text.contains("| `area_m2` | m2 | Area of the section. |\n"), "{text}");
}
