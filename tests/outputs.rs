//! All outputs of a command are written, or none, whatever the obstacle and whenever it is interrupted.

use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

use crate::tool::{BLADEFORM, HAND_TABLE, names, run_in, scan, shell_in, text};

/// Signal numbers (POSIX.1-2017, `kill`).
const INTERRUPT: i32 = 2;
const TERMINATE: i32 = 15;

/// For `env` of coreutils: default handling of the signals.
const BY_DEFAULT: &str = "--default-signal=INT,TERM,HUP";

#[test]
fn a_folder_with_the_name_of_an_output_prevents_all_outputs() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scan(at, "blade.stl", 60_000);
    std::fs::write(at.join("t.json"), HAND_TABLE).unwrap();
    let blocked = |path: &str| std::fs::create_dir_all(at.join(path)).unwrap();
    blocked("m/stations.csv");
    blocked("s/section-02-r220mm.svg");
    blocked("p/chord.svg");
    blocked("c/comparison.csv");
    blocked("d/record.html");
    blocked("man/bladeform-solid.1");
    for (arguments, out) in [
        (&["measure", "blade.stl", "--length", "1300mm", "--out", "m"][..], "m"),
        (&["solid", "t.json", "-o", "blade-made.stl", "--templates", "s", "--tolerance", "1mm"], "s"),
        (&["record", "t.json", "-o", "page.html", "--plots", "p"], "p"),
        (&["compare", "t.json", "t.json", "--out", "c"], "c"),
        (&["demo", "--out", "d"], "d"),
        (&["manual", "--out", "man"], "man"),
    ] {
        let run = run_in(at, arguments);
        let said = text(&run.stderr);
        assert_eq!(run.status.code(), Some(1), "{arguments:?}: {said}");
        assert!(said.contains("is a folder") && said.lines().count() == 1, "{said}");
        assert_eq!(names(&at.join(out)).len(), 1, "{arguments:?} left {:?}", names(&at.join(out)));
    }
    assert_eq!(names(at), ["blade.stl", "c", "d", "m", "man", "p", "s", "t.json"]);
}

#[test]
fn a_file_instead_of_a_folder_is_reported_and_missing_folders_are_created() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("t.json"), HAND_TABLE).unwrap();
    std::fs::write(at.join("file"), "").unwrap();
    let refused = run_in(at, &["compare", "t.json", "t.json", "--out", "file/deeper"]);
    assert_eq!(refused.status.code(), Some(1));
    assert!(text(&refused.stderr).contains("file is not a folder"), "{}", text(&refused.stderr));
    assert!(run_in(at, &["compare", "t.json", "t.json", "--out", "new/deeper"]).status.success());
    assert_eq!(
        names(&at.join("new/deeper")),
        ["comparison.csv", "comparison.csv-metadata.json", "comparison.html"]
    );
    assert!(run_in(at, &["record", "t.json", "-o", "pages/one.html"]).status.success());
    assert_eq!(names(&at.join("pages")), ["one.html"]);
}

#[test]
fn an_output_that_is_an_input_is_a_usage_error() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("t.json"), HAND_TABLE).unwrap();
    std::fs::write(folder.path().join("comparison.csv"), "x").unwrap();
    for arguments in [
        &["record", "t.json", "-o", "t.json"][..],
        &["compare", "t.json", "comparison.csv", "--out", "."],
        &["compare", "t.json", "comparison.csv"],
    ] {
        let run = run_in(folder.path(), arguments);
        assert_eq!(run.status.code(), Some(2), "{}", text(&run.stderr));
        assert!(text(&run.stderr).contains("is an input of this command"), "{}", text(&run.stderr));
    }
}

/// A limit on the file size simulates a full disk: writing fails halfway in the same manner.
#[test]
fn a_full_disk_leaves_no_files() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("t.json"), HAND_TABLE).unwrap();
    let line = "ulimit -f 64; exec \"$0\" solid t.json -o out/p.stl --templates sheets --tolerance 0.2mm";
    let run = shell_in(folder.path(), line);
    let said = text(&run.stderr);
    assert_eq!(run.status.code(), Some(1), "{said}");
    assert!(said.contains("p.stl cannot be written") && said.lines().count() == 1, "{said}");
    assert_eq!(names(folder.path()), ["t.json"]);
}

/// Starts the command with signals as on a terminal. A test that runs in the background inherits some of them as ignored.
fn begun(folder: &Path, signals: &str, arguments: &[&str]) -> Child {
    // `env` becomes the command, so the process is the same.
    Command::new("env")
        .args([signals, BLADEFORM])
        .current_dir(folder)
        .args(arguments)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

fn sent(child: &Child, signal: &str) -> bool {
    let kill = Command::new("kill").args([signal, &child.id().to_string()]).stderr(Stdio::null()).status();
    kill.unwrap().success()
}

fn interrupted(mut child: Child, signal: &str) -> ExitStatus {
    sent(&child, signal);
    child.wait().unwrap()
}

#[test]
fn an_interruption_leaves_all_files_or_none() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scan(at, "blade.stl", 20_000);
    let whole = ["record.html", "stations.csv", "stations.csv-metadata.json", "stations.json"];
    let arguments = ["measure", "blade.stl", "--length", "1300mm", "--out", "new/out"];
    let out = at.join("new/out");
    let mut stopped = 0;
    let mut check = |status: ExitStatus, when: &str| {
        let left = names(&out);
        assert!(left.is_empty() || left == whole, "{when}: {left:?}");
        match status.signal() {
            Some(INTERRUPT) => stopped += 1,
            _ => assert!(status.success() && left == whole, "{when}: {status} with {left:?}"),
        }
        if left.is_empty() {
            assert_eq!(names(at), ["blade.stl"], "{when}");
        }
        let _ = std::fs::remove_dir_all(at.join("new"));
    };
    for wait_ms in [50, 200, 400] {
        let child = begun(at, BY_DEFAULT, &arguments);
        std::thread::sleep(Duration::from_millis(wait_ms));
        check(interrupted(child, "-INT"), &format!("after {wait_ms} ms"));
    }
    // At the moment when the first file appears.
    for _ in 0..2 {
        let mut child = begun(at, BY_DEFAULT, &arguments);
        let begin = Instant::now();
        while names(&out).is_empty() && child.try_wait().unwrap().is_none() {
            assert!(begin.elapsed() < Duration::from_secs(120), "nothing was written");
        }
        check(interrupted(child, "-INT"), "while writing");
    }
    assert!(0 < stopped, "no run was interrupted");
}

#[test]
fn a_command_that_waits_for_a_pipe_can_be_interrupted_and_its_status_shows_it() {
    let folder = tempfile::tempdir().unwrap();
    assert!(shell_in(folder.path(), "mkfifo pipe").status.success());
    let waiting = ["measure", "pipe", "--out", "out"];
    for (signal, number) in [("-INT", INTERRUPT), ("-TERM", TERMINATE), ("-HUP", 1)] {
        let child = begun(folder.path(), BY_DEFAULT, &waiting);
        std::thread::sleep(Duration::from_millis(300));
        assert_eq!(interrupted(child, signal).signal(), Some(number));
        assert_eq!(names(folder.path()), ["pipe"]);
    }
    // Signals that the caller ignores, as with `nohup` and background jobs of a shell, stay ignored.
    let mut child = begun(folder.path(), "--ignore-signal=INT,HUP", &waiting);
    std::thread::sleep(Duration::from_millis(300));
    for signal in ["-INT", "-HUP"] {
        assert!(sent(&child, signal));
        std::thread::sleep(Duration::from_millis(300));
        assert!(child.try_wait().unwrap().is_none(), "{signal} was not ignored");
    }
    assert_eq!(interrupted(child, "-TERM").signal(), Some(TERMINATE));
}
