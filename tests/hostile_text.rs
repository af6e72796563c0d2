//! Names, comments and headers of scans may hold anything. None of it commands the terminal, and none of it is markup on the page.

use std::path::Path;
use std::process::Output;

use bladeform_mesh::RawMesh;
use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};

use crate::tool::{run_in, shell_in};

/// Clears a terminal, sets its title, rings, returns the carriage, turns the writing direction; not UTF-8; markup.
const EVIL: &[u8] = b"\x1b[2J\x1b]0;t\x07\x08\x9b1m\xff\xfe\xe2\x80\xae</script><b>x</b>\x00";

/// Lines of output are sentences. A name of a megabyte must not get there.
const LONGEST_LINE: usize = 3000;

/// `EVIL` without what ends a line or a name in a text format, and a very long word.
fn evil_name() -> Vec<u8> {
    let mut name: Vec<u8> = EVIL.iter().copied().filter(|b| *b != 0).collect();
    name.extend(std::iter::repeat_n(b'n', 1_000_000));
    name
}

/// Text long enough that a file with `EVIL` behind it is still recognised as text.
fn harmless_start() -> Vec<u8> {
    vec![b'm'; 1100]
}

fn mesh() -> RawMesh {
    scan_of_blade(&Blade::quarry_mill(), &ScanPlan { triangles: 20_000, ..ScanPlan::usual(5) }).mesh
}

/// Whether text may reach a terminal: no control character but line ends and tabs, and no change of the writing direction.
fn check_shown(what: &str, run: &Output) {
    for bytes in [&run.stdout, &run.stderr] {
        let text = std::str::from_utf8(bytes).unwrap_or_else(|_| panic!("{what}: not UTF-8"));
        let bad = text.chars().find(|c| (c.is_control() && !matches!(c, '\n' | '\t')) || *c == '\u{202e}');
        assert_eq!(
            bad,
            None,
            "{what}: {}",
            text.escape_debug().to_string().chars().take(500).collect::<String>()
        );
        let longest = text.lines().map(str::len).max().unwrap_or(0);
        assert!(longest < LONGEST_LINE, "{what}: a line of {longest} bytes");
    }
    assert!(!String::from_utf8_lossy(&run.stderr).contains("panicked"), "{what}");
}

/// Measures a file, which must succeed, and checks everything that was written.
fn check_measured(at: &Path, name: &str, bytes: &[u8]) {
    std::fs::write(at.join(name), bytes).unwrap();
    let run = run_in(
        at,
        &[
            "measure",
            name,
            "--length",
            "1300mm",
            "--at",
            "0.5,0.75",
            "--out",
            "out",
            "--overwrite",
            "--verbose",
        ],
    );
    assert!(run.status.success(), "{name}: {}", String::from_utf8_lossy(&run.stderr));
    check_shown(name, &run);
    for file in ["record.html", "stations.json", "stations.csv"] {
        let text = String::from_utf8(std::fs::read(at.join("out").join(file)).unwrap()).unwrap();
        let bad = text.chars().find(|c| c.is_control() && !matches!(c, '\n' | '\t' | '\r'));
        assert_eq!(bad, None, "{name}: {file}");
        assert!(file != "record.html" || !text.contains("<b>x"), "{name}: markup");
        assert!(!text.contains(&"n".repeat(1000)), "{name}: the long name is in {file}");
    }
}

/// A file that cannot be read: one sentence, fit for a terminal.
fn check_refused(at: &Path, name: &str, bytes: &[u8]) {
    std::fs::write(at.join(name), bytes).unwrap();
    let run = run_in(at, &["measure", name, "--out", "refused"]);
    assert_eq!(run.status.code(), Some(1), "{name}");
    check_shown(name, &run);
    assert_eq!(String::from_utf8_lossy(&run.stderr).lines().count(), 1, "{name}");
    assert!(!at.join("refused").exists(), "{name}");
}

fn after(bytes: &[u8], mark: &[u8], insert: &[u8]) -> Vec<u8> {
    let at = bytes.windows(mark.len()).position(|w| w == mark).unwrap() + mark.len();
    [&bytes[..at], insert, &bytes[at..]].concat()
}

#[test]
fn headers_of_stl_files_stay_in_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let (mesh, name) = (mesh(), evil_name());
    let mut binary = Vec::new();
    bladeform_mesh::write_stl_binary(&mesh, &mut binary).unwrap();
    binary[..EVIL.len()].copy_from_slice(EVIL);
    check_measured(at, "binary.stl", &binary);
    binary.truncate(binary.len() / 2);
    check_refused(at, "cut.stl", &binary);

    let facet = |face: &[u32; 3]| {
        let corner = |i: &u32| {
            let [x, y, z] = mesh.vertices[*i as usize];
            format!("vertex {x} {y} {z}\n")
        };
        format!(
            "facet normal 0 0 0\nouter loop\n{}endloop\nendfacet\n",
            face.iter().map(corner).collect::<String>()
        )
    };
    let facets: String = mesh.faces.iter().map(facet).collect();
    let start = harmless_start();
    let solid = [b"solid ", &start[..], &name, b"\n", facets.as_bytes(), b"endsolid ", &name, b"\n"].concat();
    check_measured(at, "ascii.stl", &solid);
    let (first, rest) = facets.split_at(facets.find("endfacet\n").unwrap() + 9);
    let broken = [b"solid a\n", first.as_bytes(), &name, b" 1\n", rest.as_bytes(), b"endsolid\n"].concat();
    check_refused(at, "broken.stl", &broken);
    let broken = [b"solid a\n", facets.replacen("vertex ", "vertex \u{1b}[2J", 1).as_bytes()].concat();
    check_refused(at, "number.stl", &broken);
}

#[test]
fn names_and_comments_of_obj_files_stay_in_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let (mesh, name) = (mesh(), evil_name());
    let place = |[x, y, z]: &[f64; 3]| format!("v {x} {y} {z}\n");
    let face = |f: &[u32; 3]| format!("f {} {} {}\n", f[0] + 1, f[1] + 1, f[2] + 1);
    let vertices: String = mesh.vertices.iter().map(place).collect();
    let faces: String = mesh.faces.iter().map(face).collect();
    let line = |word: &str| [word.as_bytes(), b" ", &name[..], b"\n"].concat();
    let words = ["#", "o", "g", "usemtl", "mtllib", "s", "\u{1b}[2Jkeyword"].map(line).concat();
    let start = [b"# ", &harmless_start()[..], b"\n"].concat();
    check_measured(
        at,
        "names.obj",
        &[&start, &words[..], vertices.as_bytes(), &words, faces.as_bytes()].concat(),
    );
    check_refused(at, "number.obj", &[&start[..], b"v 1 2 ", &name[..], b"\n", faces.as_bytes()].concat());
    check_refused(at, "corner.obj", &[vertices.as_bytes(), b"f 1 2 ", &name, b"\n"].concat());
}

#[test]
fn headers_of_ply_files_stay_in_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let name = evil_name();
    let mut ply = Vec::new();
    bladeform_mesh::write_ply_binary(&mesh(), &mut ply).unwrap();
    let format = b"format binary_little_endian 1.0\n";
    let line = |word: &str| [word.as_bytes(), b" ", &name[..], b"\n"].concat();
    check_measured(at, "comment.ply", &after(&ply, format, &[line("comment"), line("obj_info")].concat()));

    // An element and a property of that name, without rows, are named in warnings.
    let short = b"\x1b[2J\xff</script><b>x</b>\xe2\x80\xae";
    let element = [b"element ", &short[..], b" 0\nproperty float ", short, b"\n"].concat();
    check_measured(at, "element.ply", &after(&ply, format, &element));
    let element = [b"element ", &name[..], b" 0\nproperty float ", &name, b"\n"].concat();
    check_measured(at, "long.ply", &after(&ply, format, &element));

    check_refused(at, "word.ply", &after(&ply, format, &line("property")));
    check_refused(
        at,
        "kind.ply",
        &after(&ply, format, &[b"element ", &name[..], b" ", &name, b"\n"].concat()),
    );
    check_refused(at, "format.ply", &[b"ply\nformat ", &name[..], b" 1.0\nend_header\n"].concat());
}

#[test]
fn texts_of_the_user_and_names_of_files_are_shown_and_not_obeyed() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let mut ply = Vec::new();
    bladeform_mesh::write_ply_binary(&mesh(), &mut ply).unwrap();
    let name = "b\u{1b}[2J\u{202e}<b>x<b>.ply";
    check_measured(at, name, &ply);
    let line = "\"$0\" measure b*.ply --length 1300mm --at 0.5,0.75 --out texts \
        --title \"$(printf 'T\\033[2J<b>x')\" --owner \"$(printf '\\033]0;t\\007<b>x')\" --maker \"$(printf '\\377')\"";
    let run = shell_in(at, line);
    // What is not UTF-8 is refused on the command line.
    assert_eq!(run.status.code(), Some(2));
    let run = shell_in(at, &line.replace("--maker \"$(printf '\\377')\"", "--maker M"));
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    check_shown("texts", &run);
    let page = std::fs::read_to_string(at.join("texts/record.html")).unwrap();
    assert!(page.contains("<h1>T?[2J&lt;b&gt;x</h1>") && page.contains("<dt>Maker</dt><dd>M</dd>"));
    assert!(!page.contains("<b>x") && !page.contains('\u{1b}'));
    let run = run_in(at, &["compare", "texts/stations.json", "texts/stations.json", "--out", "c"]);
    check_shown("compare", &run);
    let page = std::fs::read_to_string(at.join("c/comparison.html")).unwrap();
    assert!(!page.contains("<b>x") && !page.contains('\u{1b}'));
}
