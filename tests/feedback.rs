//! Output while the command works: progress only on a terminal, `--quiet`, `--verbose`; completions and manual pages.

use std::process::Command;

use crate::tool::{BLADEFORM, HAND_TABLE, names, run_in, scan, shell_in, text};

const OPTIONS: &str = "--length 1300mm --diameter 2.84m --no-record --out out";

/// `script` of util-linux gives the command its own terminal and forwards the output. The scan comes through a pipe that is
/// filled after two seconds, so that the work takes longer than two seconds on any machine.
#[test]
#[cfg(target_os = "linux")]
fn progress_with_the_time_left_is_shown_on_a_terminal_and_nothing_in_a_pipe() {
    let folder = tempfile::tempdir().unwrap();
    scan(folder.path(), "blade.stl", 40_000);
    let filled = "rm -f pipe; mkfifo pipe; { sleep 2; cat blade.stl; } > pipe & ";
    let on_terminal = |more: &str, term: &str| {
        let line = format!(
            "{filled} TERM={term} script -qec \"$0 measure pipe {OPTIONS} {more}\" /dev/null < /dev/null"
        );
        let run = shell_in(folder.path(), &line);
        assert!(run.status.success(), "{}{}", text(&run.stdout), text(&run.stderr));
        text(&run.stdout)
    };
    let shown = on_terminal("", "xterm");
    for needed in [
        "reading the file",
        "time left not known yet",
        "measuring stations",
        " of 25",
        " s left",
        "blade angle",
    ] {
        assert!(shown.contains(needed), "{needed} is missing in\n{shown:?}");
    }
    // The progress line is removed before the results are shown.
    let (last, table) = (shown.rfind(" left").unwrap(), shown.find("Station table").unwrap());
    assert!(last < table && shown[last..table].contains("\u{1b}[2K"), "{:?}", &shown[last..table]);
    for (more, term) in [("--quiet", "xterm"), ("", "dumb")] {
        assert!(!on_terminal(more, term).contains(" left"), "{more} {term}");
    }
    let piped = shell_in(folder.path(), &format!("{filled} \"$0\" measure pipe {OPTIONS}"));
    assert!(piped.status.success());
    assert_eq!(text(&piped.stderr), "");
}

#[test]
fn quiet_keeps_warnings_and_errors_and_verbose_adds_times_and_choices() {
    let folder = tempfile::tempdir().unwrap();
    scan(folder.path(), "blade.stl", 20_000);
    let measure = ["measure", "blade.stl", "--length", "1300mm", "--out", "out"];
    let usual = text(&run_in(folder.path(), &measure).stdout);
    let quiet = run_in(folder.path(), &[&measure[..], &["--quiet"]].concat());
    assert!(quiet.status.success() && quiet.stdout.is_empty());
    let said = text(&quiet.stderr);
    // Warnings, and the caution last.
    let (said, caution) = said.trim_end().rsplit_once('\n').unwrap();
    assert!(caution.contains("not an airworthy one"), "{caution}");
    assert!(said.lines().all(|l| l.starts_with("bladeform: warning: ")), "{said}");
    for needed in ["root radius is not known", "does not show its plane of rotation"] {
        assert!(said.contains(needed), "{needed} is missing in {said}");
    }
    assert_eq!(
        usual.matches("Warning: ").count(),
        said.lines().filter(|l| !l.contains("stations have flags")).count(),
        "{usual}\n{said}"
    );
    let refused = run_in(folder.path(), &["--quiet", "measure", "missing.stl"]);
    assert!(refused.status.code() == Some(1) && text(&refused.stderr).contains("missing.stl"));
    // Explicitly requested text is still shown.
    assert!(!run_in(folder.path(), &["completions", "bash", "--quiet"]).stdout.is_empty());

    let verbose = run_in(folder.path(), &[&measure[..], &["--verbose", "--threads", "1"]].concat());
    assert_eq!(text(&verbose.stdout), usual);
    let told = text(&verbose.stderr);
    for needed in [
        " s  measuring stations (25)",
        " s  repairing the mesh",
        "binary STL",
        "scale: overall length",
        "threads: 1",
        "stations.json",
    ] {
        assert!(told.contains(needed), "{needed} is missing in\n{told}");
    }
    assert!(!told.contains(" left"));

    std::fs::write(folder.path().join("t.json"), HAND_TABLE).unwrap();
    let solid = ["solid", "t.json", "-o", "p.stl", "--tolerance", "1mm", "--quiet"];
    let told = text(&run_in(folder.path(), &solid).stderr);
    assert!(told.contains("warning: ") && told.contains("(substitute-sections)"), "{told}");
}

#[test]
fn completions_are_accepted_by_their_shells() {
    let folder = tempfile::tempdir().unwrap();
    let bash = shell_in(
        folder.path(),
        "\"$0\" completions bash > c && bash -n c && bash -c '. ./c; complete -p bladeform'",
    );
    assert!(bash.status.success(), "{}", text(&bash.stderr));
    // What bash itself would suggest after `bladeform mea` and after `bladeform measure x --len`.
    let offered = |words: &str, at: usize| {
        let line = format!(
            "bash -c '. ./c; COMP_WORDS=({words}); COMP_CWORD={at}; _bladeform bladeform \"${{COMP_WORDS[{at}]}}\" \"\"; printf \"%s\\n\" \"${{COMPREPLY[@]}}\"'"
        );
        text(&shell_in(folder.path(), &line).stdout)
    };
    assert_eq!(offered("bladeform mea", 1), "measure\n");
    assert_eq!(offered("bladeform measure x --len", 3), "--length\n--length-uncertainty\n");
    for (shell, needed) in [("zsh", "#compdef bladeform"), ("fish", "complete -c bladeform")] {
        let run = run_in(folder.path(), &["completions", shell]);
        let said = text(&run.stdout);
        assert!(
            run.status.success() && said.contains(needed) && said.contains("length-uncertainty"),
            "{shell}"
        );
    }
}

#[test]
fn every_command_has_a_manual_page_with_its_options_and_its_example() {
    let folder = tempfile::tempdir().unwrap();
    let run = run_in(folder.path(), &["manual", "--out", "man"]);
    assert!(run.status.success(), "{}", text(&run.stderr));
    let help = text(&run_in(folder.path(), &["--help"]).stdout);
    let listed = help.split("Commands:").nth(1).unwrap().split("Options:").next().unwrap();
    let is_name = |l: &&str| l.starts_with("  ") && !l.starts_with("   ");
    let commands: Vec<&str> =
        listed.lines().filter(is_name).filter_map(|l| l.split_whitespace().next()).collect();
    assert!(8 <= commands.len(), "{commands:?}");
    let mut expected = vec!["bladeform.1".to_owned()];
    expected.extend(commands.iter().filter(|c| **c != "help").map(|c| format!("bladeform-{c}.1")));
    expected.sort();
    assert_eq!(names(&folder.path().join("man")), expected);
    let page = |name: &str| std::fs::read_to_string(folder.path().join("man").join(name)).unwrap();
    let measure = page("bladeform-measure.1").replace("\\-", "-");
    for needed in [".TH bladeform-measure 1", "--length-uncertainty", "--quiet", "Example: bladeform measure"]
    {
        assert!(measure.contains(needed), "{needed} is missing in\n{measure}");
    }
    assert!(page("bladeform.1").contains("airworthy"));
    // The check of the page by groff, if it is installed: no warning at all.
    if let Ok(run) = Command::new("groff")
        .args(["-man", "-ww", "-z"])
        .arg(folder.path().join("man/bladeform-measure.1"))
        .output()
    {
        assert!(run.status.success() && run.stderr.is_empty(), "{}", text(&run.stderr));
    }
    assert!(Command::new(BLADEFORM).arg("--version").output().unwrap().status.success());
}
