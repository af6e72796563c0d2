//! What the page asks for, and what it gets.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

use bladeform::record::Picture;
use serde_json::{Value, json};

use super::http::{Answer, Asked};
use super::job::{Job, NotKept, Photo, ScanRef, sentence};
use super::line::{Line, Step, Wrong, is_offered};
use super::quick::Quick;
use super::scan::Scan;
use super::upload::Arrived;
use super::{Shop, assets, handed, live_section, plain_name, work};
use crate::feedback::Shares;
use crate::photographs::FOLDER as PHOTOS;
use crate::record::{PAGE, PREDICTION_PAGE};

/// A window waits so long for the end of the work before it asks again.
const LONGEST_WAIT: Duration = Duration::from_secs(20);
/// The step that computes polars for the sliders.
const READY: &str = "ready";
const READY_SHARES: Shares = &[("section polars", 1.0)];
/// The step that reads a scan that was named by its path.
const READ: &str = "scan";

/// Files of results that the page may show or save, with their kinds.
const RESULTS: &[(&str, &str)] = &[
    ("stations.json", "application/json"),
    ("stations.csv", "text/csv; charset=utf-8"),
    ("stations.csv-metadata.json", "application/json"),
    ("prediction.json", "application/json"),
    ("prediction.csv", "text/csv; charset=utf-8"),
    ("schedules.csv", "text/csv; charset=utf-8"),
    (PAGE, "text/html; charset=utf-8"),
    (PREDICTION_PAGE, "text/html; charset=utf-8"),
    ("propeller.stl", "model/stl"),
    ("propeller.step", "model/step"),
    ("templates/sections.pdf", "application/pdf"),
];

/// The answer to a request that was admitted.
pub(super) fn route(shop: &Arc<Shop>, asked: &mut Asked<'_>) -> Answer {
    // Progress is asked for all the time; a window that is closed says so once.
    shop.seen(asked.path == "closed");
    let path = asked.path.clone();
    let made = match (asked.is_post, path.as_str()) {
        (false, "") => Ok(Answer::bytes("text/html; charset=utf-8", assets::PAGE.into())),
        (false, "state") => Ok(Answer::json(&state(shop))),
        (false, "ended") => {
            work::wait(shop, LONGEST_WAIT, || shop.is_over.load(Ordering::Relaxed));
            Ok(Answer::json(&json!({})))
        }
        (false, "log") => Ok(Answer::json(&json!(shop.job().log()))),
        (false, "picture") => picture(shop),
        (true, "scan") => dropped(shop, asked),
        (true, "path") => named(shop, asked),
        (true, "forget-scan") => forget_scan(shop, asked),
        (true, "choose") => chosen(shop, asked),
        (true, "run") => run(shop, asked),
        (true, "stop") => {
            shop.work().stop();
            Ok(Answer::json(&json!({})))
        }
        (true, "ray") => ray(shop, asked),
        (true, "section") => section(shop, asked),
        (true, "quick") => quick(shop, asked),
        (true, "photograph") => photograph(shop, asked),
        (true, "forget-photograph") => forget_photograph(shop, asked),
        (true, "caption") => caption(shop, asked),
        (true, "closed") => Ok(Answer::json(&json!({}))),
        (true, "end") => {
            shop.is_over.store(true, Ordering::Relaxed);
            Ok(Answer::json(&json!({})))
        }
        (false, other) => file(shop, other),
        _ => Err(nothing()),
    };
    made.unwrap_or_else(|refused| refused)
}

fn nothing() -> Answer {
    Answer::refused(404, "the bench has nothing under this address")
}

/// A file of the page, of the results, or a photograph.
fn file(shop: &Shop, path: &str) -> Result<Answer, Answer> {
    if let Some(name) = path.strip_prefix("assets/") {
        let (kind, text) = assets::asset(name).ok_or_else(nothing)?;
        return Ok(Answer::bytes(kind, text.into()));
    }
    if let Some(name) = path.strip_prefix("photographs/") {
        let is_ours = shop.job().photos.iter().flatten().any(|p| p.file == format!("{PHOTOS}/{name}"));
        let bytes = is_ours.then(|| std::fs::read(shop.folder.join(PHOTOS).join(name)).ok()).flatten();
        let bytes = bytes.ok_or_else(nothing)?;
        return Ok(Answer::bytes(Picture::kind_of(&bytes).ok_or_else(nothing)?, bytes));
    }
    let (to_save, name) = match path.strip_prefix("save/") {
        Some(name) => (true, name),
        None => (false, path.strip_prefix("file/").ok_or_else(nothing)?),
    };
    let (_, kind) = RESULTS.iter().find(|(own, _)| *own == name).ok_or_else(nothing)?;
    let bytes = std::fs::read(shop.folder.join(name)).map_err(|_| nothing())?;
    let answer = Answer::bytes(kind, bytes);
    let answer = if kind.starts_with("text/html") { answer.shut_in() } else { answer };
    Ok(if to_save { answer.saved_as(name.rsplit('/').next().unwrap_or(name)) } else { answer })
}

/// Everything that a window shows of the job.
fn state(shop: &Shop) -> Value {
    let figures = handed::figures(shop);
    let mut job = shop.job();
    // What another program changed in the folder is shown as well; a file that cannot be read is told when something is changed.
    let _ = job.follow_disk();
    let mut lines = serde_json::Map::new();
    for step in Step::ALL {
        let line = Line::of(step, &job, &shop.folder, false);
        let wrong = line.as_ref().and_then(|l| l.parse().err());
        let text = line.map(|l| l.text());
        lines.insert(
            step.word().to_owned(),
            json!({
                "text": text,
                "wrong": wrong.as_ref().map(|w| json!({ "sentence": w.sentence, "missing": w.is_missing })),
                "done": job.done.contains_key(step.word()),
                "late": job.done.get(step.word()).is_some_and(|done| Some(done) != Line::essence(step, &job, &figures).as_ref()),
            }),
        );
    }
    let files: serde_json::Map<String, Value> = RESULTS
        .iter()
        .filter_map(|(name, _)| {
            let found = std::fs::metadata(shop.folder.join(name)).ok()?;
            let changed = found.modified().ok()?.duration_since(std::time::UNIX_EPOCH).ok()?;
            Some((
                (*name).to_owned(),
                json!({ "bytes": found.len(), "stamp": format!("{}", changed.as_nanos()) }),
            ))
        })
        .collect();
    let shown = job.shown();
    drop(job);
    let quick = shop.handed().quick.as_ref().map(|q| q.shown());
    json!({
        "folder": shop.folder.display().to_string(),
        "job": shown,
        "lines": lines,
        "work": shop.work().shown(),
        "files": files,
        "quick": quick,
        "largest": shop.largest,
        "caution": bladeform::table::CAUTION,
    })
}

/// The picture of the scan.
fn picture(shop: &Shop) -> Result<Answer, Answer> {
    let scan = handed::scan(shop).map_err(|e| Answer::refused(422, &sentence(e)))?;
    Ok(Answer::bytes("application/octet-stream", scan.picture()))
}

/// A change of the job; what stands in the way is an answer, for a change by another window with the state of now.
fn change(shop: &Shop, revision: u64, what: &str, change: impl FnOnce(&mut Job)) -> Result<(), Answer> {
    let done = shop.job().change(revision, what, change);
    done.map_err(|e| match e {
        NotKept::Changed => Answer::json(&json!({
            "sentence": "another window or program has changed this job; its state is shown now, and the last change here was not kept: make it again if it is still right",
            "state": state(shop),
        }))
        .with_status(409),
        NotKept::Unwritten(text) => Answer::refused(507, &text),
    })
}

/// The last revision, for changes that contradict none.
fn latest(shop: &Shop) -> u64 {
    shop.job().revision
}

/// What is told where a scan takes the place of another.
const OTHER_SCAN: &str = "this is another scan than before, and lengths, readings and texts are still those of the last one, so that figures would be wrong: check each of them, or begin another folder for another blade";

/// A scan that was taken over: its facts, and what must be told.
struct Taken {
    facts: Value,
    sentence: &'static str,
}

/// Refuses a further scan of the same blade before it takes a place in the folder: without a first one, twice, or under the name of another one.
fn refuse_repeat(shop: &Shop, sha256: &str, path: &str) -> Result<(), Answer> {
    let job = shop.job();
    let refused = |text: String| Err(Answer::refused(422, &text));
    let Some(first) = &job.scan else {
        return refused("the job has no first scan yet; add this one as the scan".to_owned());
    };
    match [first].into_iter().chain(&job.repeats).find(|s| s.sha256 == sha256 || s.path == path) {
        Some(same) if same.sha256 == sha256 => refused(format!(
            "{path} is {} once more, which says nothing new; add another scan of the same blade",
            same.path
        )),
        Some(_) => refused(format!("another scan of this job is called {path}; rename the file")),
        None => Ok(()),
    }
}

/// Takes a further scan of the same blade over.
fn take_repeat(shop: &Shop, scan: &Scan, path: &str) -> Result<Taken, Answer> {
    refuse_repeat(shop, &scan.sha256, path)?;
    let taken = ScanRef { path: path.to_owned(), sha256: scan.sha256.clone(), bytes: scan.bytes };
    change(shop, latest(shop), &format!("a further scan is {path}, SHA-256 {}", taken.sha256), |job| {
        job.repeats.push(taken);
    })?;
    Ok(Taken { facts: scan.facts(), sentence: "" })
}

/// Takes a further scan off the job; its file stays.
fn forget_scan(shop: &Shop, asked: &mut Asked<'_>) -> Result<Answer, Answer> {
    let body = asked.json()?;
    let path = body["path"].as_str().unwrap_or_default().to_owned();
    change(shop, latest(shop), &format!("{path} is no longer part of the job; the file stays"), |job| {
        job.repeats.retain(|s| s.path != path);
    })?;
    Ok(Answer::json(&state(shop)))
}

/// Takes a scan over: it must be one.
fn take(shop: &Shop, scan: Scan, path: &str) -> Result<Taken, Answer> {
    let facts = scan.facts();
    let is_other = shop.job().scan.as_ref().is_some_and(|s| s.sha256 != scan.sha256);
    let is_chosen = shop.job().choices.values().any(|options| !options.is_empty());
    // What was typed for one blade must not pass for what is known of another.
    let sentence = if is_other && is_chosen { OTHER_SCAN } else { "" };
    let taken = ScanRef { path: path.to_owned(), sha256: scan.sha256.clone(), bytes: scan.bytes };
    change(shop, latest(shop), &format!("the scan is {path}, SHA-256 {}", taken.sha256), |job| {
        if job.scan.as_ref().is_none_or(|s| s.sha256 != taken.sha256) {
            // Points that were marked lie in the coordinates of another file.
            if let Some(options) = job.choices.get_mut("measure") {
                options.remove("distance");
            }
            job.done.clear();
            job.repeats.clear();
        }
        job.scan = Some(taken);
    })?;
    handed::hold(shop, &Arc::new(scan));
    Ok(Taken { facts, sentence })
}

fn refuse_while_busy(shop: &Shop) -> Result<(), Answer> {
    match shop.work().is_running() {
        true => Err(Answer::refused(409, "something is being done; wait for its end, or stop it")),
        false => Ok(()),
    }
}

/// A scan that was dropped on the page.
fn dropped(shop: &Shop, asked: &mut Asked<'_>) -> Result<Answer, Answer> {
    refuse_while_busy(shop)?;
    let name = asked.query("name").as_deref().and_then(plain_name);
    let name =
        name.ok_or_else(|| Answer::refused(422, "the file has no usable name; rename it and drop it again"))?;
    if reserved(&name) {
        return Err(Answer::refused(
            422,
            &format!("{name} is the name of a file of results; rename the scan and drop it again"),
        ));
    }
    let arrived = Arrived::read(asked.body, asked.length, shop.largest, &shop.folder)?;
    // A wrong file is refused before it takes the place of a right one.
    let scan = Scan::read(arrived.path()).map_err(|e| {
        let told = sentence(e).replace(&arrived.path().display().to_string(), &name);
        Answer::refused(422, &told)
    })?;
    debug_assert!(scan.sha256 == arrived.sha256 && scan.bytes == arrived.bytes);
    let is_repeat = asked.query("repeat").is_some();
    if is_repeat {
        refuse_repeat(shop, &scan.sha256, &name)?;
    }
    arrived.named(&shop.folder.join(&name))?;
    let Taken { facts, sentence } =
        if is_repeat { take_repeat(shop, &scan, &name)? } else { take(shop, scan, &name)? };
    Ok(Answer::json(&json!({ "facts": facts, "sentence": sentence })))
}

/// Names of the job and its results.
fn reserved(name: &str) -> bool {
    let name = name.to_ascii_lowercase();
    name == super::job::JOB
        || RESULTS.iter().any(|(own, _)| *own == name)
        || ["templates", PHOTOS].contains(&&*name)
}

/// A scan that was named by its path: it stays where it is.
fn named(shop: &Arc<Shop>, asked: &mut Asked<'_>) -> Result<Answer, Answer> {
    let body = asked.json()?;
    let typed = body["path"].as_str().unwrap_or_default().trim().to_owned();
    if typed.is_empty() {
        return Err(Answer::refused(422, "no path was given; type the path of the scan"));
    }
    // From the folder in which the bench was started, as a command would take it; kept so that it also holds from elsewhere.
    let path = std::path::absolute(&typed).map_err(|e| Answer::refused(422, &format!("{typed}: {e}")))?;
    let inside = std::path::absolute(&shop.folder)
        .ok()
        .and_then(|folder| path.strip_prefix(folder).ok().map(Path::to_owned));
    let kept = inside.unwrap_or_else(|| path.clone()).display().to_string();
    let is_repeat = body["repeat"].as_bool().unwrap_or(false);
    let keeper = Arc::clone(shop);
    let task = move |_: &dyn bladeform::work::Observer| {
        let scan = Scan::read(&path)?;
        let taken = if is_repeat { take_repeat(&keeper, &scan, &kept) } else { take(&keeper, scan, &kept) };
        let taken = taken.map_err(|refused| {
            crate::failure::Failure::Input(
                refused
                    .sentence()
                    .unwrap_or_else(|| "the job was changed meanwhile; name the scan again".to_owned()),
            )
        })?;
        Ok(taken.sentence.to_owned())
    };
    begin(shop, READ, &[], task, |_| ())
}

/// One choice: an option of a command with its values.
fn chosen(shop: &Shop, asked: &mut Asked<'_>) -> Result<Answer, Answer> {
    let body = asked.json()?;
    let text = |key: &str| body[key].as_str().unwrap_or_default().to_owned();
    let (command, option) = (text("command"), text("option").replace('-', "_"));
    if !is_offered(&command, &option) {
        return Err(Answer::refused(422, "the bench does not offer this choice"));
    }
    let values: Option<Vec<String>> = body["values"]
        .as_array()
        .map(|list| list.iter().filter_map(|v| v.as_str().map(str::to_owned)).collect());
    let values =
        values.ok_or_else(|| Answer::refused(400, "the request is not understood; nothing was changed"))?;
    let revision = body["revision"].as_u64().unwrap_or(u64::MAX);
    // A value that can never be used is not kept; one that does not go with others is kept and told.
    let mut alone = shop.job().clone();
    alone.choices.insert(command.clone(), [(option.clone(), values.clone())].into());
    alone.scan.get_or_insert(ScanRef { path: "scan".to_owned(), sha256: String::new(), bytes: 0 });
    let step = Step::ALL.into_iter().find(|s| s.command() == command);
    let wrong: Option<Wrong> = step
        .and_then(|step| Line::of(step, &alone, &shop.folder, false))
        .and_then(|line| line.parse().err())
        .filter(|wrong| wrong.is_value);
    if let Some(wrong) = wrong {
        return Err(Answer::refused(422, &wrong.sentence));
    }
    let told = match values.as_slice() {
        [] => format!("{command}: {option} was taken away"),
        some => format!("{command}: {option} is {}", some.join("; ")),
    };
    change(shop, revision, &told, |job| {
        let options = job.choices.entry(command).or_default();
        match values.is_empty() {
            true => drop(options.remove(&option)),
            false => drop(options.insert(option, values)),
        }
    })?;
    Ok(Answer::json(&state(shop)))
}

/// Begins work, unless other work is under way.
fn begin(
    shop: &Arc<Shop>,
    step: &str,
    shares: Shares,
    task: impl FnOnce(&dyn bladeform::work::Observer) -> Result<String, crate::failure::Failure> + Send + 'static,
    done: impl FnOnce(&Shop) + Send + 'static,
) -> Result<Answer, Answer> {
    match work::begin(shop, step, shares, shop.threads, task, done) {
        true => Ok(Answer::json(&json!({ "work": shop.work().shown() }))),
        false => Err(Answer::refused(409, "something is being done; wait for its end, or stop it")),
    }
}

/// Runs a step.
fn run(shop: &Arc<Shop>, asked: &mut Asked<'_>) -> Result<Answer, Answer> {
    let body = asked.json()?;
    let word = body["step"].as_str().unwrap_or_default();
    if word == READY {
        return ready(shop);
    }
    let step = Step::of_word(word).ok_or_else(|| Answer::refused(422, "the bench has no such step"))?;
    let overwrite = body["overwrite"].as_bool().unwrap_or(false);
    let figures = handed::figures(shop);
    let (line, essence) = {
        let job = shop.job();
        (Line::of(step, &job, &shop.folder, overwrite), Line::essence(step, &job, &figures))
    };
    let none = || Answer::refused(422, "the job has no scan yet; drop one, or name it by its path");
    let (line, essence) = line.zip(essence).ok_or_else(none)?;
    let parsed = line.parse().map_err(|wrong| Answer::refused(422, &wrong.sentence))?;
    let shares = parsed.command.shares();
    let task = move |_: &dyn bladeform::work::Observer| Ok(crate::run(&parsed)?.text);
    let done = move |shop: &Shop| {
        // Whatever was changed meanwhile is kept; the table is then older than the choices, and the page says so.
        let _ = shop.job().keep_done(step.word(), &essence);
    };
    begin(shop, step.word(), shares, task, done)
}

/// Computes the polars for the sliders.
fn ready(shop: &Arc<Shop>) -> Result<Answer, Answer> {
    let (sha256, table) = handed::table(shop).map_err(|e| Answer::refused(422, &sentence(e)))?;
    let line = {
        let mut job = shop.job().clone();
        // The sliders ask for a speed of their own.
        let options = job.choices.entry("predict".to_owned()).or_default();
        if !options.contains_key("advance") {
            options.entry("speed".to_owned()).or_insert_with(|| vec!["0m/s".to_owned()]);
        }
        Line::of(Step::Predict, &job, &shop.folder, false)
    };
    let line = line.ok_or_else(nothing)?;
    let parsed = line.parse().map_err(|wrong| Answer::refused(422, &wrong.sentence))?;
    let of = format!("{sha256} {}", line.text());
    if shop.handed().quick.as_ref().is_some_and(|quick| quick.of == of) {
        return Ok(Answer::json(&json!({})));
    }
    let keeper = Arc::clone(shop);
    let task = move |observer: &dyn bladeform::work::Observer| {
        let quick = Quick::new(&parsed.command, &table, of, observer)?;
        keeper.handed().quick = Some(Arc::new(quick));
        Ok(String::new())
    };
    begin(shop, READY, READY_SHARES, task, |_| ())
}

fn numbers(value: &Value) -> Option<[f64; 3]> {
    let list: Vec<f64> = value.as_array()?.iter().filter_map(Value::as_f64).collect();
    list.try_into().ok()
}

/// Where a ray meets the whole scan.
fn ray(shop: &Shop, asked: &mut Asked<'_>) -> Result<Answer, Answer> {
    let body = asked.json()?;
    let scan = handed::scan(shop).map_err(|e| Answer::refused(422, &sentence(e)))?;
    let point = numbers(&body["from"])
        .zip(numbers(&body["towards"]))
        .and_then(|(from, towards)| scan.meets(from, towards));
    Ok(Answer::json(&json!({ "point": point })))
}

/// A section at a station that is being dragged.
fn section(shop: &Shop, asked: &mut Asked<'_>) -> Result<Answer, Answer> {
    let body = asked.json()?;
    let told = |e| Answer::refused(422, &sentence(e));
    let (_, table) = handed::table(shop).map_err(told)?;
    let scan = handed::scan(shop).map_err(told)?;
    let ratio = body["ratio"].as_f64().filter(|r| 0.0 < *r && *r <= 1.0);
    let ratio = ratio.ok_or_else(|| Answer::refused(422, "a station lies between 0 and 1 R"))?;
    let is_of = table.source.as_ref().is_none_or(|s| s.sha256.is_empty() || s.sha256 == scan.sha256);
    let made = is_of.then(|| live_section::live_section(&scan.mesh, scan.normals(), &table, ratio)).flatten();
    made.map(|value| Answer::json(&value))
        .ok_or_else(|| Answer::refused(422, "the table is not that of this scan; measure it first"))
}

/// An answer of the sliders.
fn quick(shop: &Shop, asked: &mut Asked<'_>) -> Result<Answer, Answer> {
    let body = asked.json()?;
    let quick = shop.handed().quick.clone();
    let quick =
        quick.ok_or_else(|| Answer::refused(422, "the polars are not ready; press the button first"))?;
    let number = |key: &str| body[key].as_f64().unwrap_or(f64::NAN);
    quick
        .answer(number("setting_deg"), number("rpm"), number("speed_m_s"))
        .map(|value| Answer::json(&value))
        .map_err(|e| Answer::refused(422, &sentence(e)))
}

/// A photograph of the part.
fn photograph(shop: &Shop, asked: &mut Asked<'_>) -> Result<Answer, Answer> {
    let name = asked.query("name").as_deref().and_then(plain_name);
    let name =
        name.ok_or_else(|| Answer::refused(422, "the file has no usable name; rename it and add it again"))?;
    if Picture::MOST <= shop.job().photos.as_ref().map_or(0, Vec::len) {
        return Err(Answer::refused(
            422,
            &format!("a record has at most {} photographs; take one away first", Picture::MOST),
        ));
    }
    let folder = shop.folder.join(PHOTOS);
    std::fs::create_dir_all(&folder)
        .map_err(|e| Answer::refused(507, &format!("the folder {} cannot be made: {e}", folder.display())))?;
    let arrived = Arrived::read(asked.body, asked.length, Picture::MOST_BYTES as u64, &folder)?;
    let bytes = std::fs::read(arrived.path()).unwrap_or_default();
    let picture =
        Picture::read(&name, "", bytes).map_err(|e| Answer::refused(422, &format!("{name}: {e}")))?;
    let name = free_name(&folder, &name, picture.bytes());
    let photo =
        Photo { file: format!("{PHOTOS}/{name}"), sha256: arrived.sha256.clone(), caption: String::new() };
    arrived.named(&folder.join(&name))?;
    change(shop, latest(shop), &format!("photograph {name}, SHA-256 {}", photo.sha256), |job| {
        let all = job.photos.get_or_insert_default();
        if all.iter().all(|p| p.file != photo.file) {
            all.push(photo);
        }
    })?;
    Ok(Answer::json(&state(shop)))
}

/// A name under which the folder holds nothing else: `back.jpg`, `back-2.jpg` and so on. On a command line `=` ends the name of a photograph.
fn free_name(folder: &Path, name: &str, bytes: &[u8]) -> String {
    let name = name.replace('=', "-");
    let (stem, end) = name.rsplit_once('.').unwrap_or((&name, "jpg"));
    let numbered = (2..).map(|k: u64| format!("{stem}-{k}.{end}"));
    let is_free = |name: &String| std::fs::read(folder.join(name)).map_or(true, |held| held == bytes);
    [format!("{stem}.{end}")].into_iter().chain(numbered).find(is_free).unwrap_or_default()
}

/// What a photograph shows.
fn caption(shop: &Shop, asked: &mut Asked<'_>) -> Result<Answer, Answer> {
    let body = asked.json()?;
    let text = |key: &str| body[key].as_str().unwrap_or_default().trim().to_owned();
    let (file, caption) = (text("file"), text("caption"));
    change(shop, latest(shop), &format!("{file} shows: {caption}"), |job| {
        let of = job.photos.iter_mut().flatten().filter(|p| p.file == file);
        of.for_each(|p| p.caption.clone_from(&caption));
    })?;
    Ok(Answer::json(&state(shop)))
}

/// Takes a photograph off the job; its file stays.
fn forget_photograph(shop: &Shop, asked: &mut Asked<'_>) -> Result<Answer, Answer> {
    let body = asked.json()?;
    let name = body["file"].as_str().unwrap_or_default().to_owned();
    change(shop, latest(shop), &format!("{name} is no longer part of the job; the file stays"), |job| {
        job.photos.iter_mut().for_each(|all| all.retain(|p| p.file != name));
    })?;
    Ok(Answer::json(&state(shop)))
}
