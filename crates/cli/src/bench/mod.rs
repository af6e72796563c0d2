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
use std::sync::atomic::{AtomicBool, Ordering};
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
/// Time between two looks at whether anybody is there.
const LOOK: Duration = Duration::from_millis(250);
/// Most work of requests at one time: a window asks for a handful of things at once.
const MOST_REQUESTS: usize = 32;

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
    let job = Job::open(&asked.folder)?;
    let token = token()?;
    let address = ("127.0.0.1", asked.port.unwrap_or(0));
    let server = tiny_http::Server::http(address).map_err(|e| {
        Failure::Input(format!(
            "the page cannot be served on port {}: {e}; give another --port, or none",
            address.1
        ))
    })?;
    let port = server.server_addr().to_ip().map_or(address.1, |ip| ip.port());
    let shop = Arc::new(Shop {
        folder: asked.folder.clone(),
        token,
        port,
        largest: u64::from(asked.largest) * 1_000_000,
        threads,
        job: Mutex::new(job),
        work: Mutex::new(Work::default()),
        handed: Mutex::new(Handed::default()),
        presence: Mutex::new(Presence { last: Instant::now(), patience: UNSEEN }),
        is_over: AtomicBool::new(false),
    });
    told(&format!(
        "The bench for {} is open at {}\nOnly this machine reaches it, and only with this address. It ends when its windows are closed, or with Ctrl-C; the folder keeps everything.\n",
        shop.folder.display(),
        shop.address()
    ))?;
    let _door = if asked.no_browser { None } else { open::in_browser(&shop.address()) };
    serve(&server, &shop);
    Ok(Said {
        text: format!("The bench is closed. The job is in {}.\n", shop.folder.display()),
        ..Said::default()
    })
}

/// Answers until the bench is over. Every request has a thread, so that an upload does not keep the progress waiting.
fn serve(server: &tiny_http::Server, shop: &Arc<Shop>) {
    let open = Arc::new(std::sync::atomic::AtomicUsize::new(0));
    while !shop.is_over.load(Ordering::Relaxed) && !shop.is_deserted() {
        match server.recv_timeout(LOOK) {
            Ok(Some(request)) => {
                if MOST_REQUESTS <= open.load(Ordering::Relaxed) {
                    http::busy(request);
                    continue;
                }
                open.fetch_add(1, Ordering::Relaxed);
                let (shop, open) = (Arc::clone(shop), Arc::clone(&open));
                std::thread::spawn(move || {
                    http::answer(&shop, request);
                    open.fetch_sub(1, Ordering::Relaxed);
                });
            }
            Ok(None) => {}
            // A broken connection is the window's affair.
            Err(_) => std::thread::sleep(LOOK),
        }
    }
    // What is being done stops, and an upload that hangs leaves no file.
    shop.work().stop();
    shop.work().wait(Duration::from_secs(10));
    crate::interrupt::take_away(&mut crate::interrupt::while_open());
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
