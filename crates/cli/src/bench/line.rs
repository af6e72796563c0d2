//! The command lines of the page's steps: made from the choices, shown to the user, and run as they are.

use std::path::{Path, PathBuf};

use clap::FromArgMatches;
use clap::error::ErrorKind;

use super::job::{Choices, Job, Photo};
use crate::arguments::{Arguments, command_line};
use crate::calls::{option_names, sentence_of, takes_value};
use crate::held::TABLE;
use crate::record::PREDICTION_JSON;

/// Options that the page does not offer: where files go is the page's affair, and files from elsewhere are named on a command line.
const NOT_OFFERED: [&str; 18] = [
    "out",
    "output",
    "overwrite",
    "quiet",
    "verbose",
    "threads",
    "no_record",
    "outlines",
    "templates",
    "scan",
    "photograph",
    "plots",
    "polar",
    "polar_cache",
    "engine",
    "slipstream",
    "one_file",
    "ascii",
];

/// A step that runs a command.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Step {
    Measure,
    Predict,
    /// A solid of triangles.
    Stl,
    /// A solid of smooth surfaces.
    Smooth,
    Templates,
}

impl Step {
    pub(super) const ALL: [Self; 5] =
        [Self::Measure, Self::Predict, Self::Stl, Self::Smooth, Self::Templates];

    /// The word of the page.
    pub(super) const fn word(self) -> &'static str {
        match self {
            Self::Measure => "measure",
            Self::Predict => "predict",
            Self::Stl => "stl",
            Self::Smooth => "step",
            Self::Templates => "templates",
        }
    }

    pub(super) fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|s| s.word() == word)
    }

    /// The command, whose choices it has.
    pub(super) const fn command(self) -> &'static str {
        match self {
            Self::Measure => "measure",
            Self::Predict => "predict",
            Self::Stl | Self::Smooth | Self::Templates => "solid",
        }
    }

    /// File or folder in the job's folder that it makes.
    pub(super) const fn makes(self) -> &'static str {
        match self {
            Self::Measure => TABLE,
            Self::Predict => PREDICTION_JSON,
            Self::Stl => "propeller.stl",
            Self::Smooth => "propeller.step",
            Self::Templates => "templates",
        }
    }
}

/// Whether the page may choose an option of a command.
pub(super) fn is_offered(command: &str, option: &str) -> bool {
    Step::ALL.iter().any(|s| s.command() == command)
        && !NOT_OFFERED.contains(&option)
        && option_names(command).iter().any(|name| name == option)
}

/// A command line, word by word, without the program.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Line(Vec<String>);

impl Line {
    /// The line of a step; `None` without what it begins with.
    pub(super) fn of(step: Step, job: &Job, folder: &Path, overwrite: bool) -> Option<Self> {
        let empty = Choices::new();
        let choices = job.choices.get(step.command()).unwrap_or(&empty);
        let shown = |path: PathBuf| path.display().to_string();
        let mut words = vec![step.command().to_owned()];
        match step {
            Step::Measure => {
                let scans = [job.scan.as_ref()?].into_iter().chain(&job.repeats);
                words.extend(scans.map(|s| shown(folder.join(&s.path))));
            }
            _ => words.push(shown(folder.join(TABLE))),
        }
        for (option, values) in choices {
            for value in values {
                let name = option.replace('_', "-");
                let is_switch = value.is_empty() && !takes_value(step.command(), option);
                words.push(if is_switch { format!("--{name}") } else { format!("--{name}={value}") });
            }
        }
        if let Some(photos) = job.photos.as_ref().filter(|_| step == Step::Measure) {
            let one = |p: &Photo| {
                let file = shown(folder.join(&p.file));
                format!("--photograph={file}{}{}", if p.caption.is_empty() { "" } else { "=" }, p.caption)
            };
            words.extend(photos.iter().map(one));
            // Those that an earlier record shows are taken away too.
            words.extend(photos.is_empty().then(|| "--photograph=".to_owned()));
        }
        if overwrite && step != Step::Stl && step != Step::Smooth && step != Step::Templates {
            words.push("--overwrite".to_owned());
        }
        let goal = shown(folder.join(step.makes()));
        match step {
            Step::Measure => words.push(format!("--out={}", shown(folder.to_owned()))),
            Step::Predict => {
                // A scan outside the folder is not looked for.
                let scan = job.scan.as_ref().filter(|s| Path::new(&s.path).components().count() != 1);
                words.extend(scan.map(|s| format!("--scan={}", shown(folder.join(&s.path)))));
                words.push(format!("--out={}", shown(folder.to_owned())));
            }
            Step::Stl | Step::Smooth => words.push(format!("--output={goal}")),
            Step::Templates => words.push(format!("--templates={goal}")),
        }
        Some(Self(words))
    }

    /// What a step is made from, whatever the folder is called: two jobs with the same text make the same. `figures`: SHA-256 of those of the table.
    pub(super) fn essence(step: Step, job: &Job, figures: &str) -> Option<String> {
        let text = Self::of(step, job, Path::new("."), false)?.text();
        Some(if step == Step::Measure { text } else { format!("{text} # table {figures}") })
    }

    /// The line as it would be typed in a shell.
    pub(super) fn text(&self) -> String {
        let mut text = String::from("bladeform");
        for word in &self.0 {
            text.push(' ');
            match word.strip_prefix("--").and_then(|rest| rest.split_once('=')) {
                // `--name value` reads better; a value that looks like an option needs the other form.
                Some((name, value)) if !value.is_empty() && !value.starts_with('-') => {
                    text.push_str(&format!("--{name} {}", quoted(value)));
                }
                _ => text.push_str(&quoted(word)),
            }
        }
        text
    }

    /// Reads the line as the command does.
    ///
    /// # Errors
    /// [`Wrong`] with the command's own sentence.
    pub(super) fn parse(&self) -> Result<Arguments, Wrong> {
        let words = ["bladeform"].into_iter().chain(self.0.iter().map(String::as_str));
        let parsed = command_line().try_get_matches_from(words).and_then(|typed| {
            let mut asked = Arguments::from_arg_matches(&typed)?;
            asked.learn_units(&typed);
            Ok(asked)
        });
        parsed.map_err(|e| Wrong {
            is_missing: e.kind() == ErrorKind::MissingRequiredArgument,
            is_value: matches!(e.kind(), ErrorKind::ValueValidation | ErrorKind::InvalidValue),
            sentence: sentence_of(&e),
        })
    }
}

/// What is wrong with a line.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Wrong {
    /// Something that is needed was not chosen yet.
    pub(super) is_missing: bool,
    /// A single value cannot be used, whatever else was chosen.
    pub(super) is_value: bool,
    pub(super) sentence: String,
}

/// A word as a POSIX shell takes it unchanged.
fn quoted(word: &str) -> String {
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "_-./=:,@%+".contains(c);
    match !word.is_empty() && word.chars().all(is_plain) {
        true => word.to_owned(),
        false => format!("'{}'", word.replace('\'', "'\\''")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::job::ScanRef;

    fn job(options: &[(&str, &[&str])]) -> Job {
        let at = tempfile::tempdir().unwrap();
        let mut job = Job::open(at.path()).unwrap();
        job.scan = Some(ScanRef { path: "my blade.ply".into(), sha256: String::new(), bytes: 1 });
        let list = |v: &[&str]| v.iter().map(|t| (*t).to_owned()).collect::<Vec<_>>();
        job.choices
            .insert("measure".into(), options.iter().map(|(k, v)| ((*k).to_owned(), list(v))).collect());
        job
    }

    #[test]
    fn the_line_is_the_commands_and_is_quoted() {
        let _alone = crate::interrupt::one_writer();
        let folder = PathBuf::from("jobs");
        let mut job =
            job(&[("length", &["1.3m"]), ("maker", &["O'Neil & Sons"]), ("swap", &["ends", "edges"])]);
        let line = Line::of(Step::Measure, &job, &folder, false).unwrap();
        let text = line.text();
        assert!(text.starts_with("bladeform measure '"), "{text}");
        assert!(
            text.ends_with(
                "my blade.ply' --length 1.3m --maker 'O'\\''Neil & Sons' --swap ends --swap edges --out jobs"
            ),
            "{text}"
        );
        assert!(line.parse().is_ok());

        let photo = Photo {
            file: "photographs/a.jpg".into(),
            sha256: String::new(),
            caption: "The back = side 1".into(),
        };
        job.photos = Some(vec![photo]);
        job.choices.insert("measure".into(), [("owner".to_owned(), vec![String::new()])].into());
        let line = Line::of(Step::Measure, &job, &folder, false).unwrap();
        assert!(
            line.text()
                .ends_with(" --owner= --photograph 'jobs/photographs/a.jpg=The back = side 1' --out jobs"),
            "{}",
            line.text()
        );
        assert!(line.parse().is_ok());
        job.photos = Some(Vec::new());
        let line = Line::of(Step::Measure, &job, &folder, false).unwrap();
        assert!(line.text().ends_with(" --owner= --photograph= --out jobs"), "{}", line.text());
    }

    #[test]
    fn options_that_lead_elsewhere_are_not_offered() {
        assert!(is_offered("measure", "length") && is_offered("solid", "hub_diameter"));
        for (command, option) in
            [("measure", "out"), ("predict", "polar"), ("record", "title"), ("measure", "nonsense")]
        {
            assert!(!is_offered(command, option), "{command} {option}");
        }
        for name in NOT_OFFERED {
            let known = ["measure", "predict", "solid", "record"]
                .iter()
                .any(|c| option_names(c).contains(&name.to_owned()));
            assert!(known || ["quiet", "verbose", "threads"].contains(&name), "{name} is no option");
        }
    }
}
