//! The `bench` command: a page served on this machine alone, on which a scan is dropped, seen, measured and kept.
//!
//! Every step of the page is a command line of [`line`]; what runs is the command itself, so that its figures are the command's. A folder holds the job ([`job`]).

mod assets;
mod handed;
mod http;
mod job;
mod line;
mod live_section;
mod open;
mod quick;
mod routes;
mod scan;
mod upload;
mod work;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use clap::Args;

use crate::failure::{Failure, Said};
use handed::Handed;
use job::Job;
use work::Work;

/// The bench ends when no window has asked for anything for so long: a browser may let a hidden window ask once a minute only.
const ALONE: Duration = Duration::from_secs(180);
/// The same after a window said that it is closed; loading a page anew says so as well.
const CLOSED: Duration = Duration::from_secs(20);
/// Before the first window has been seen.
const UNSEEN: Duration = Duration::from_secs(600);
/// Work that is under way when the bench ends has so long to stop.
const FAREWELL: Duration = Duration::from_secs(10);

/// Options of the bench.
#[derive(Debug, Args)]
pub(crate) struct Bench {
    /// Folder of the job: it holds or names the scan, and holds choices, readings, tables and pages. It is made if it is missing; a job that is there goes on.
    #[arg(value_name = "FOLDER", default_value = "bladeform-job")]
    folder: PathBuf,
    /// Port of the address on this machine [default: a free one].
    #[arg(long, value_name = "NUMBER", value_parser = clap::value_parser!(u16).range(1..))]
    port: Option<u16>,
    /// Do not open the page in a browser; print its address only.
    #[arg(long)]
    no_browser: bool,
    /// Largest scan that may be dropped on the page, in megabytes. A scan that is named by its path has no such limit.
    #[arg(long, value_name = "MB", default_value_t = 1024, value_parser = clap::value_parser!(u32).range(1..=65_536))]
    largest: u32,
}

/// What the page is served from.
pub(crate) struct Shop {
    /// The folder of the job, as it was typed.
    folder: PathBuf,
    /// The word in the address that only the user's windows know.
    token: String,
    port: u16,
    /// Most bytes of a file that is dropped.
    largest: u64,
    /// Threads of the work, 0 for one per processor core.
    threads: usize,
    job: Mutex<Job>,
    work: Mutex<Work>,
    handed: Mutex<Handed>,
    presence: Mutex<Presence>,
    is_over: AtomicBool,
}

/// When the bench was last needed.
struct Presence {
    last: Instant,
    patience: Duration,
}

impl Shop {
    /// # Errors
    /// As [`Job::open`].
    fn new(folder: &Path, token: String, port: u16, largest: u64, threads: usize) -> Result<Self, Failure> {
        Ok(Self {
            folder: folder.to_owned(),
            token,
            port,
            largest,
            threads,
            job: Mutex::new(Job::open(folder)?),
            work: Mutex::new(Work::default()),
            handed: Mutex::new(Handed::default()),
            presence: Mutex::new(Presence { last: Instant::now(), patience: UNSEEN }),
            is_over: AtomicBool::new(false),
        })
    }

    fn job(&self) -> MutexGuard<'_, Job> {
        // A fault elsewhere does not make the job wrong: it is changed as a whole.
        self.job.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn work(&self) -> MutexGuard<'_, Work> {
        self.work.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn handed(&self) -> MutexGuard<'_, Handed> {
        self.handed.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A window is there, or has just said that it is closed.
    fn seen(&self, is_closed: bool) {
        let patience = if is_closed { CLOSED } else { ALONE };
        *self.presence.lock().unwrap_or_else(PoisonError::into_inner) =
            Presence { last: Instant::now(), patience };
    }

    /// Whether nobody has been there for too long; never while work is done.
    fn is_deserted(&self) -> bool {
        let busy = self.work().is_running();
        let presence = self.presence.lock().unwrap_or_else(PoisonError::into_inner);
        !busy && presence.patience < presence.last.elapsed()
    }

    /// The address of the page.
    fn address(&self) -> String {
        format!("http://127.0.0.1:{}/{}/", self.port, self.token)
    }
}

/// Serves the page until its windows are closed or the user ends it; returns what is said then.
///
/// # Errors
/// A sentence if the folder cannot be used or the address is taken.
pub(crate) fn bench(asked: &Bench, threads: usize) -> Result<Said, Failure> {
    let address = ("127.0.0.1", asked.port.unwrap_or(0));
    let unserved = |e: std::io::Error| {
        Failure::Input(format!(
            "the page cannot be served on port {}: {e}; give another --port, or none",
            address.1
        ))
    };
    let listener = std::net::TcpListener::bind(address).map_err(unserved)?;
    listener.set_nonblocking(true).map_err(unserved)?;
    let port = listener.local_addr().map_err(unserved)?.port();
    let largest = u64::from(asked.largest) * 1_000_000;
    let shop = Arc::new(Shop::new(&asked.folder, token()?, port, largest, threads)?);
    told(&format!(
        "The bench for {} is open at {}\nOnly this machine reaches it, and only with this address. It ends when its windows are closed, or with Ctrl-C; the folder keeps everything.\n",
        shop.folder.display(),
        shop.address()
    ))?;
    let _door = if asked.no_browser { None } else { open::in_browser(&shop.address()) };
    http::serve(listener, &shop).map_err(unserved)?;
    // What is being done stops, and an upload that hangs leaves no file.
    shop.work().stop();
    work::wait(&shop, FAREWELL, || false);
    crate::interrupt::take_away(&mut crate::interrupt::while_open());
    Ok(Said {
        text: format!("The bench is closed. The job is in {}.\n", shop.folder.display()),
        ..Said::default()
    })
}

/// 128 random bits from the system, in hexadecimal digits.
fn token() -> Result<String, Failure> {
    let mut bytes = [0_u8; 16];
    getrandom::fill(&mut bytes)
        .map_err(|e| Failure::Input(format!("the system gives no random numbers for the address: {e}")))?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

/// A text on standard output, now.
fn told(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout();
    out.write_all(crate::harmless::harmless(text).as_bytes())
        .and_then(|()| out.flush())
        .map_err(|e| Failure::Input(format!("the address cannot be written to standard output: {e}")))
}

/// The name of a file without its folders; `None` if there is none, or it is hidden.
fn plain_name(text: &str) -> Option<String> {
    let last = text.rsplit(['/', '\\']).next().unwrap_or_default().trim();
    let name: String = last.chars().filter(|c| !c.is_control() && !"<>:\"|?*".contains(*c)).collect();
    let is_plain = !name.is_empty() && !name.starts_with('.') && name.len() <= 200;
    (is_plain && Path::new(&name).file_name().is_some()).then_some(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tokens_are_long_and_never_the_same() {
        let (one, two) = (token().unwrap(), token().unwrap());
        assert_eq!(one.len(), 32);
        assert_ne!(one, two);
    }

    #[test]
    fn names_of_uploads_stay_in_the_folder() {
        assert_eq!(plain_name("../../etc/blade.ply").as_deref(), Some("blade.ply"));
        assert_eq!(plain_name("C:\\scans\\blade 4.stl").as_deref(), Some("blade 4.stl"));
        for bad in ["", "..", ".hidden", "a/", "x/.part"] {
            assert_eq!(plain_name(bad), None, "{bad}");
        }
    }
}
