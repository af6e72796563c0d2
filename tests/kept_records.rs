//! Records are kept: texts and scan survive the next command, another blade does not replace them without being told to, and blades are counted from 1.

use std::path::Path;
use std::sync::OnceLock;

use bladeform::document::read_json;
use bladeform::quantity::UnitFamily;
use bladeform::table::{RecordText, StationTable};
use bladeform_specimen::{Blade, ScanPlan, SpecimenPropeller, scan_of_blade, scan_of_propeller};

use crate::tool::{HAND_TABLE, names, run_in, scan, shell_in, text};

const LENGTHS: [&str; 4] = ["--length", "1300mm", "--diameter", "2.84m"];
/// One surface, so that one set of polars is computed.
const FLIGHT: [&str; 11] = [
    "--blades",
    "2",
    "--rpm",
    "1750",
    "--speed",
    "120mph",
    "--setting",
    "14:20:6",
    "--surface",
    "smooth",
    "--no-free-wake",
];

/// Runs the command, which must succeed; returns what it says as one line.
fn done(at: &Path, arguments: &[&str]) -> String {
    let run = run_in(at, arguments);
    assert!(run.status.success(), "{arguments:?}: {}", text(&run.stderr));
    text(&run.stdout).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Runs the command, which must refuse in one sentence that contains the words.
fn refused(at: &Path, arguments: &[&str], words: &[&str]) {
    let run = run_in(at, arguments);
    let said = text(&run.stderr);
    assert_eq!(run.status.code(), Some(1), "{arguments:?}: {said}");
    assert_eq!(said.lines().count(), 1, "{said}");
    words.iter().for_each(|w| assert!(said.contains(w), "{w} is missing: {said}"));
}

fn measure(at: &Path, scan: &str, out: &str, more: &[&str]) -> String {
    done(at, &[&["measure", scan, "--at", "0.3,0.5,0.75,0.9", "--out", out][..], &LENGTHS, more].concat())
}

/// Polars for all tests of this file: the same sections again and again.
fn polars() -> &'static str {
    static FOLDER: OnceLock<(tempfile::TempDir, String)> = OnceLock::new();
    let make = || {
        let folder = tempfile::tempdir().unwrap();
        let name = folder.path().to_str().unwrap().to_owned();
        (folder, name)
    };
    &FOLDER.get_or_init(make).1
}

fn predict(at: &Path, table: &str, out: &str, more: &[&str]) -> String {
    done(at, &[&["predict", table, "--polar-cache", polars(), "--out", out][..], &FLIGHT, more].concat())
}

fn table(at: &Path, folder: &str) -> StationTable {
    read_json(&std::fs::read(at.join(folder).join("stations.json")).unwrap()).unwrap()
}

fn page(at: &Path, name: &str) -> String {
    std::fs::read_to_string(at.join(name)).unwrap()
}

/// The switch of the scan is on a page that shows it.
fn shows_scan(page: &str) -> bool {
    page.contains("name=\"scan\"")
}

fn scan_by_seed(at: &Path, name: &str, seed: u64) {
    let plan = ScanPlan { triangles: 20_000, ..ScanPlan::usual(seed) };
    let mut bytes = Vec::new();
    bladeform_mesh::write_ply_binary(&scan_of_blade(&Blade::quarry_mill(), &plan).mesh, &mut bytes).unwrap();
    std::fs::write(at.join(name), bytes).unwrap();
}

/// A table that was measured with lengths in inches is shown in inches by the commands that read it.
#[test]
fn a_table_measured_in_inches_is_shown_in_inches_until_other_units_are_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scan(at, "blade.stl", 20_000);
    done(
        at,
        &[
            "measure",
            "blade.stl",
            "--diameter",
            "104in",
            "--root-radius",
            "5in",
            "--at",
            "0.3,0.5,0.75,0.9",
            "--no-record",
        ],
    );
    assert_eq!(table(at, ".").record.units, Some(UnitFamily::Inch));
    let in_inches = |arguments: &[&str]| done(at, arguments).contains(" in - in in in in");
    let compare = ["compare", "stations.json", "stations.json", "--no-record"];
    assert!(in_inches(&compare));
    assert!(!in_inches(&[&compare[..], &["--units", "mm"]].concat()));
    done(at, &["record", "stations.json", "-o", "inches.html"]);
    done(at, &["record", "stations.json", "-o", "millimetres.html", "--units", "mm"]);
    assert_ne!(page(at, "inches.html"), page(at, "millimetres.html"));
    // Measured again in millimetres, it is shown in millimetres.
    done(at, &["measure", "blade.stl", "--length", "1.3m", "--at", "0.3,0.5,0.75,0.9", "--no-record"]);
    assert_eq!(table(at, ".").record.units, None);
}

#[test]
fn the_texts_and_the_scan_of_a_record_are_still_there_after_every_other_command() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scan(at, "blade.stl", 20_000);
    let texts = [
        ("--title", RecordText::Title, "Port <blade>"),
        ("--part-note", RecordText::Note, "Repaired in 1931"),
        ("--date", RecordText::Date, "2026-01-31"),
        ("--maker", RecordText::Maker, "Quarry Mill"),
        ("--number", RecordText::Number, "No. 4"),
        ("--owner", RecordText::Owner, "A museum"),
        ("--scanned-by", RecordText::ScannedBy, "N. N."),
        ("--scanned-with", RecordText::ScannedWith, "a fringe scanner"),
        ("--accession-number", RecordText::AccessionNumber, "1931.4"),
    ];
    let mut given: Vec<&str> = texts.iter().flat_map(|(option, _, value)| [*option, *value]).collect();
    given.extend(["--density", "0.68g/cm3"]);
    measure(at, "blade.stl", "rec", &given);
    let measured = table(at, "rec");
    let mass_kg = 680.0 * measured.blade.volume_m3.unwrap();
    assert!((measured.mass_kg().unwrap().value - mass_kg).abs() < 1e-12 * mass_kg);
    let record = measured.record;
    for (_, key, value) in texts {
        assert_eq!(record.get(key), Some(value));
    }
    let measured = page(at, "rec/record.html");
    assert!(shows_scan(&measured));
    let has_texts = |page: &str| {
        page.contains("<h1>Port &lt;blade&gt;</h1>")
            && page.contains("<p class=\"note\">Repaired in 1931</p>")
            && page.contains("Blade record, 2026-01-31")
            && page.contains("<dt>Maker</dt><dd>Quarry Mill</dd>")
            && page.contains("<dt>Number on the part</dt><dd>No. 4</dd>")
            && page.contains("<dt>Owner</dt><dd>A museum</dd>")
            && page.contains("<dt>Scanned by</dt><dd>N. N.</dd>")
            && page.contains("<dt>Scanned with</dt><dd>a fringe scanner</dd>")
            && page.contains("<dt>Accession number</dt><dd>1931.4</dd>")
            && page.contains(&format!("mass <span class=\"q\" data-v=\"{mass_kg}\" data-k=\"mass\""))
            && page.contains("at 680 kg/m³ throughout")
    };
    assert!(has_texts(&measured));

    // The scan lies in the current folder, the table in the folder of results: as in the examples of the help.
    predict(at, "rec/stations.json", "rec", &[]);
    let predicted = page(at, "rec/record.html");
    assert!(has_texts(&predicted) && shows_scan(&predicted) && predicted.contains("id=\"performance-0\""));

    // Measuring the same scan again keeps the prediction of the same table on the page.
    measure(at, "blade.stl", "rec", &[]);
    let again = page(at, "rec/record.html");
    assert!(has_texts(&again) && again.contains("id=\"performance-0\""));

    done(at, &["solid", "rec/stations.json", "--setting", "20deg", "-o", "rec/p.stl", "--tolerance", "1mm"]);
    done(at, &["compare", "rec/stations.json", "rec/stations.json", "--out", "rec"]);
    assert!(page(at, "rec/comparison.html").contains("title: Port &lt;blade&gt;"));
    assert!(page(at, "rec/comparison.html").contains("accession number: 1931.4"));
    assert!(page(at, "rec/record.html") == again && table(at, "rec").record == record);

    // A page with the scan is not replaced by one without.
    std::fs::rename(at.join("blade.stl"), at.join("gone.stl")).unwrap();
    let said = predict(at, "rec/stations.json", "rec", &[]);
    assert!(said.contains("Warning: (scan-kept)"), "{said}");
    assert!(page(at, "rec/record.html") == again, "the page with the scan was replaced");
    let beside = page(at, "rec/prediction.html");
    assert!(has_texts(&beside) && !shows_scan(&beside) && beside.contains("id=\"performance-0\""));
    refused(at, &["record", "rec/stations.json", "-o", "rec/record.html"], &["shows the scan", "--scan"]);
    let said = predict(at, "rec/stations.json", "named", &["--scan", "gone.stl"]);
    assert!(!said.contains("(scan-"), "{said}");
    let named = page(at, "named/record.html");
    assert!(has_texts(&named) && shows_scan(&named) && named.contains("id=\"performance-0\""));
    std::fs::write(at.join("wrong.stl"), "solid").unwrap();
    let wrong =
        [&["predict", "rec/stations.json", "--scan", "wrong.stl", "--out", "w"][..], &FLIGHT].concat();
    refused(at, &wrong, &["wrong.stl", "is not the one that was measured"]);

    // The texts of the table are on every page that `record` makes of it; given anew they replace the table's.
    done(at, &["record", "rec/stations.json", "-o", "own.html", "--owner", "An heir", "--part-note", ""]);
    let own = page(at, "own.html");
    assert!(own.contains("<dd>An heir</dd>") && !own.contains("A museum") && !own.contains("class=\"note\""));
    done(at, &["record", "rec/stations.json", "-o", "own.html"]);
    assert!(page(at, "own.html").contains("A museum"), "the table's texts come first");
    // Texts given to `record` alone live on its page.
    measure(at, "gone.stl", "bare", &[]);
    done(
        at,
        &["record", "bare/stations.json", "-o", "bare/record.html", "--maker", "A smith", "--overwrite"],
    );
    done(at, &["record", "bare/stations.json", "-o", "bare/record.html", "--owner", "An heir"]);
    let both = page(at, "bare/record.html");
    assert!(both.contains("<dd>A smith</dd>") && both.contains("<dd>An heir</dd>"));
    predict(at, "bare/stations.json", "bare", &[]);
    assert!(
        page(at, "bare/record.html").contains("<dd>A smith</dd>"),
        "predict takes the texts of the page away"
    );
}

/// A picture of one pixel: PNG, ISO/IEC 15948.
const PIXEL: &[u8] = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x01\x08\0\0\0\0\x3a\x7e\x9b\x55\0\0\0\nIDATx\x9cc`\0\0\0\x02\0\x01\x48\xaf\xa4\x71\0\0\0\0IEND\xaeB`\x82";

/// How often a page shows a picture of one pixel.
fn pictures(page: &str) -> usize {
    page.matches("src=\"data:image/png;base64,iVBORw0KGgo").count()
}

#[test]
fn the_same_scan_is_replaced_and_its_texts_are_kept_unless_given_anew() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scan(at, "blade.stl", 20_000);
    std::fs::write(at.join("back.png"), PIXEL).unwrap();
    std::fs::write(at.join("face.png"), [PIXEL, b"\n"].concat()).unwrap();
    std::fs::write(at.join("letter.jpg"), "Dear Sir").unwrap();
    let wrong = [&["measure", "blade.stl", "--photograph", "letter.jpg"][..], &LENGTHS].concat();
    refused(at, &wrong, &["letter.jpg", "no JPEG, PNG or WebP"]);
    let texts = ["--title", "Port blade", "--owner", "A museum"];
    let photographs = ["--photograph", "back.png=The <back>", "--photograph", "face.png"];
    measure(at, "blade.stl", "rec", &[&texts[..], &photographs].concat());
    assert_eq!(std::fs::read(at.join("rec/photographs/back.png")).unwrap(), PIXEL);
    let named = table(at, "rec").record.photographs;
    assert_eq!(named[0].file, "photographs/back.png");
    assert_eq!((named[0].caption.as_str(), named[1].caption.as_str()), ("The <back>", ""));
    // The copies in the folder are those that count.
    std::fs::remove_file(at.join("face.png")).unwrap();
    let first = page(at, "rec/record.html");
    assert!(pictures(&first) == 2 && first.contains("alt=\"The &lt;back&gt;\""));
    assert!(first.contains(&format!("photographs/back.png (SHA-256 <code>{}", named[0].sha256)));
    predict(at, "rec/stations.json", "rec", &[]);
    assert_eq!(pictures(&page(at, "rec/record.html")), 2, "predict takes photographs off the page");
    // Other texts, the same figures: the prediction follows its table.
    let said = measure(at, "blade.stl", "rec", &["--owner", "An heir", "--density", "0.68g/cm3"]);
    assert_eq!(table(at, "rec").record.density_kg_m3, Some(680.0));
    assert!(!said.contains("prediction-left-out"), "{said}");
    let record = table(at, "rec").record;
    assert_eq!(
        (record.get(RecordText::Title), record.get(RecordText::Owner)),
        (Some("Port blade"), Some("An heir"))
    );
    assert!(page(at, "rec/record.html").contains("id=\"performance-0\""));
    done(at, &["record", "rec/stations.json", "rec/prediction.json", "-o", "both.html"]);
    assert_eq!((pictures(&page(at, "rec/record.html")), pictures(&page(at, "both.html"))), (2, 2));
    // Another picture under the same name is neither replaced nor shown.
    std::fs::write(at.join("back.png"), [PIXEL, b"?"].concat()).unwrap();
    let other =
        [&["measure", "blade.stl", "--photograph", "back.png", "--out", "rec"][..], &LENGTHS].concat();
    refused(at, &other, &["back.png", "would be lost"]);
    std::fs::copy(at.join("back.png"), at.join("rec/photographs/back.png")).unwrap();
    let said = done(at, &["record", "rec/stations.json", "-o", "one.html"]);
    assert!(said.contains("(photographs-missing)") && said.contains("photographs/back.png"), "{said}");
    assert_eq!(pictures(&page(at, "one.html")), 1);

    // Other figures: the prediction is not theirs, and a warning says so.
    let finer = ["measure", "blade.stl", "--at", "0.3,0.6,0.75,0.9", "--out", "rec"];
    let said =
        done(at, &[&finer[..], &LENGTHS, &["--owner", "", "--photograph", "", "--density", ""]].concat());
    assert!(said.contains("Warning: (prediction-left-out) prediction.json"), "{said}");
    assert!(!page(at, "rec/record.html").contains("id=\"performance-0\""));
    let record = table(at, "rec").record;
    assert_eq!((record.get(RecordText::Title), record.get(RecordText::Owner)), (Some("Port blade"), None));
    assert!(record.density_kg_m3.is_none(), "an empty density is taken away");
    assert!(record.photographs.is_empty() && pictures(&page(at, "rec/record.html")) == 0);

    // Under another name and through a pipe it is the same scan.
    std::fs::rename(at.join("blade.stl"), at.join("renamed.stl")).unwrap();
    let line =
        "mkfifo pipe; cat renamed.stl > pipe & \"$0\" measure pipe --at 0.5,0.75 --length 1300mm --out rec";
    let run = shell_in(at, line);
    assert!(run.status.success(), "{}", text(&run.stderr));
    assert_eq!(table(at, "rec").record.get(RecordText::Title), Some("Port blade"));
}

#[test]
fn another_blade_does_not_replace_a_record_without_being_told_to() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scan_by_seed(at, "one.ply", 1);
    scan_by_seed(at, "two.ply", 2);
    measure(at, "one.ply", "rec", &["--title", "One"]);
    measure(at, "two.ply", "other", &[]);
    let (before, kept) = (page(at, "rec/record.html"), names(&at.join("rec")));
    let words = ["is the record of another scan, one.ply", "--out", "--overwrite"];
    let measure_two = [&["measure", "two.ply", "--at", "0.5,0.75", "--out", "rec"][..], &LENGTHS].concat();
    refused(at, &measure_two, &words);
    refused(at, &[&["predict", "other/stations.json", "--out", "rec"][..], &FLIGHT].concat(), &words);
    refused(at, &[&["predict", "other/stations.csv", "--out", "rec"][..], &FLIGHT].concat(), &words);
    refused(at, &["demo", "--out", "rec"], &words);
    refused(at, &["record", "other/stations.json", "-o", "rec/record.html"], &words);
    let pipe =
        "mkfifo pipe; cat two.ply > pipe & \"$0\" measure pipe --at 0.5,0.75 --length 1300mm --out rec";
    let run = shell_in(at, pipe);
    assert_eq!(run.status.code(), Some(1));
    assert!(text(&run.stderr).contains(words[0]), "{}", text(&run.stderr));
    assert!(page(at, "rec/record.html") == before && names(&at.join("rec")) == kept);

    // One of several scans is that of the record.
    let both = ["measure", "two.ply", "one.ply", "--at", "0.5,0.75", "--no-record", "--out", "rec"];
    done(at, &[&both[..], &LENGTHS].concat());
    assert_eq!(table(at, "rec").record.get(RecordText::Title), Some("One"));

    measure(at, "one.ply", "rec", &[]);
    done(at, &[&measure_two[..], &["--overwrite"]].concat());
    let replaced = table(at, "rec");
    assert_eq!(replaced.source.unwrap().file, "two.ply");
    assert!(replaced.record.is_empty(), "texts of another blade were kept");
    assert!(!page(at, "rec/record.html").contains("<h1>One</h1>"));
}

#[test]
fn a_table_written_by_hand_is_not_lost_under_the_name_of_an_output() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scan(at, "blade.stl", 20_000);
    let asked = [&["measure", "blade.stl", "--at", "0.5,0.75"][..], &LENGTHS].concat();
    for (name, content, words) in [
        ("stations.json", HAND_TABLE, "a table without a scan and would be lost"),
        ("stations.json", "{}", "not a table of this scan and would be lost"),
        ("stations.csv", "radius_m\n", "not a table of this scan and would be lost"),
    ] {
        std::fs::write(at.join(name), content).unwrap();
        refused(at, &asked, &[name, words]);
        assert_eq!(page(at, name), content);
        std::fs::remove_file(at.join(name)).unwrap();
    }
    // Predicting from tables by hand in the same folder goes on as the table is changed.
    std::fs::write(at.join("t.json"), HAND_TABLE).unwrap();
    predict(at, "t.json", "p", &["--title", "By hand"]);
    std::fs::write(at.join("t.json"), HAND_TABLE.replace("40.0", "41.0")).unwrap();
    predict(at, "t.json", "p", &[]);
    // A scan does not replace the page of such a table.
    refused(at, &[&asked[..], &["--out", "p"]].concat(), &["record.html", "without a scan"]);
}

#[test]
fn blades_are_counted_from_1_for_people_and_from_0_in_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let blade = Blade { shank_radius_m: 0.0, root_radius_m: 0.05, sweep_m: 0.0, ..Blade::quarry_mill() };
    let propeller = SpecimenPropeller { blade, count: 2, hub_radius_m: 0.16, hub_length_m: 0.2 };
    let made = scan_of_propeller(&propeller, &ScanPlan { triangles: 60_000, ..ScanPlan::usual(3) });
    let mut bytes = Vec::new();
    bladeform_mesh::write_ply_binary(&made.mesh, &mut bytes).unwrap();
    std::fs::write(at.join("p.ply"), bytes).unwrap();
    let said = done(at, &["measure", "p.ply", "--diameter", "2.84m", "--at", "0.5,0.75", "--out", "rec"]);
    assert!(said.contains("Blade 1 from the mean") && said.contains("Blade 2 from the mean"), "{said}");
    assert!(!said.contains("Blade 0") && !said.contains("blade 0"), "{said}");
    let table = table(at, "rec");
    assert_eq!(table.blades.iter().map(|b| b.index).collect::<Vec<_>>(), [0, 1]);
    let page = page(at, "rec/record.html");
    assert!(page.contains("Blade 1, 0.500 R") && page.contains("Blade 2, 0.750 R"));
    assert!(!page.contains("Blade 0"), "a blade is called 0");
    let differences = page.split("Difference of each blade from the mean").nth(1).unwrap();
    let rows: Vec<&str> = differences.split("<th scope=\"row\">").skip(1).take(2).collect();
    assert!(rows[0].starts_with("1<") && rows[1].starts_with("2<"), "{rows:?}");
    let csv = std::fs::read_to_string(at.join("rec/stations.csv")).unwrap();
    assert!(!csv.contains("blade 0"), "{csv}");
}
