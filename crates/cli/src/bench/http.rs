//! HTTP of the bench: who may ask, and how answers are written. Nothing else of the program knows the server library.

use std::convert::Infallible;
use std::io::Read;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

use http_body_util::{BodyExt, Full};
use hyper::body::{Bytes, Incoming};
use hyper::header::{HeaderName, HeaderValue};
use hyper::{Method, Request, Response, StatusCode};
use hyper_util::rt::{TokioIo, TokioTimer};
use serde_json::{Value, json};
use tokio::net::TcpListener;
use tokio::sync::{Semaphore, mpsc};

use super::{Shop, routes};

/// Most bytes of a request that is not a file: choices and rays are short.
const MOST_BYTES: u64 = 1_000_000;

/// Time between two looks at whether anybody is there.
const LOOK: Duration = Duration::from_millis(250);
/// Most work of requests at one time: a window asks for a handful of things at once.
const MOST_REQUESTS: usize = 16;
/// A header that does not come to an end, or an answer that is not taken, holds a connection no longer than this.
const PATIENCE: Duration = Duration::from_secs(30);
/// Parts of a body that wait for whoever reads them.
const PARTS: usize = 8;
/// Requests under way have so long to end when the bench is closed.
const FAREWELL: Duration = Duration::from_millis(500);

/// What the page may load: itself, and nothing from elsewhere.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; frame-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
/// A page of results runs in a world of its own: it reaches neither the bench nor anything else.
const SHUT_IN: &str = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data: blob:; sandbox allow-scripts allow-downloads allow-modals; frame-ancestors 'self'";

/// An answer.
#[derive(Debug)]
pub(super) struct Answer {
    pub(super) status: u16,
    kind: &'static str,
    body: Vec<u8>,
    is_shut_in: bool,
    /// File name to save it under.
    download: Option<String>,
}

impl Answer {
    pub(super) fn json(value: &Value) -> Self {
        Self::bytes("application/json", value.to_string().into_bytes())
    }

    pub(super) fn bytes(kind: &'static str, body: Vec<u8>) -> Self {
        Self { status: 200, kind, body, is_shut_in: false, download: None }
    }

    /// A refusal in one sentence.
    pub(super) fn refused(status: u16, sentence: &str) -> Self {
        Self { status, ..Self::json(&json!({ "sentence": sentence })) }
    }

    /// The sentence of a refusal.
    pub(super) fn sentence(&self) -> Option<String> {
        let body: Value = serde_json::from_slice(&self.body).ok()?;
        Some(body["sentence"].as_str()?.to_owned())
    }

    pub(super) fn with_status(self, status: u16) -> Self {
        Self { status, ..self }
    }

    pub(super) fn shut_in(self) -> Self {
        Self { is_shut_in: true, ..self }
    }

    pub(super) fn saved_as(self, name: &str) -> Self {
        Self { download: Some(name.to_owned()), ..self }
    }

    fn response(self) -> Response<Full<Bytes>> {
        let policy = if self.is_shut_in { SHUT_IN } else { POLICY };
        let plain: String = self
            .download
            .iter()
            .flat_map(|n| n.chars())
            .filter(|c| c.is_ascii_graphic() && *c != '"')
            .collect();
        let saved = format!("attachment; filename=\"{plain}\"");
        let mut response = Response::new(Full::new(Bytes::from(self.body)));
        *response.status_mut() =
            StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        let mut headers = vec![
            ("content-type", self.kind),
            ("content-security-policy", policy),
            ("x-content-type-options", "nosniff"),
            ("referrer-policy", "no-referrer"),
            ("cache-control", "no-store"),
            ("cross-origin-resource-policy", "same-origin"),
            ("cross-origin-opener-policy", "same-origin"),
        ];
        if self.download.is_some() {
            headers.push(("content-disposition", &saved));
        }
        for (name, value) in headers {
            if let Ok(value) = HeaderValue::from_str(value) {
                response.headers_mut().insert(HeaderName::from_static(name), value);
            }
        }
        response
    }
}

/// A request that may be answered: what is asked for, and its body.
pub(super) struct Asked<'a> {
    pub(super) is_post: bool,
    /// The path behind the token, without a slash at its beginning.
    pub(super) path: String,
    query: String,
    /// Bytes of the body as announced; `None` if they are not.
    pub(super) length: Option<u64>,
    pub(super) body: &'a mut dyn Read,
}

impl Asked<'_> {
    /// A value of the query, decoded.
    pub(super) fn query(&self, name: &str) -> Option<String> {
        let pairs = self.query.split('&').filter_map(|pair| pair.split_once('='));
        pairs.filter(|(key, _)| *key == name).map(|(_, value)| decoded(value)).next()
    }

    /// The body as JSON.
    ///
    /// # Errors
    /// A refusal for a body that is too long or no JSON.
    pub(super) fn json(&mut self) -> Result<Value, Answer> {
        let mut bytes = Vec::new();
        let read = (&mut *self.body).take(MOST_BYTES + 1).read_to_end(&mut bytes);
        if read.is_err() || MOST_BYTES < bytes.len() as u64 {
            return Err(Answer::refused(
                413,
                "the request is too long, or was broken off; nothing was changed",
            ));
        }
        serde_json::from_slice(&bytes)
            .map_err(|_| Answer::refused(400, "the request is not understood; nothing was changed"))
    }
}

/// Text of an address, where `%20` stands for a blank.
fn decoded(text: &str) -> String {
    let bytes = text.as_bytes();
    let mut out = Vec::with_capacity(bytes.len());
    let mut k = 0;
    while k < bytes.len() {
        let hex = text.get(k + 1..k + 3).and_then(|h| u8::from_str_radix(h, 16).ok());
        match (bytes[k], hex) {
            (b'%', Some(byte)) => {
                out.push(byte);
                k += 2;
            }
            (byte, _) => out.push(byte),
        }
        k += 1;
    }
    String::from_utf8_lossy(&out).into_owned()
}

/// The body of a request for a reader on another thread.
struct Body {
    parts: mpsc::Receiver<std::io::Result<Bytes>>,
    part: Bytes,
}

impl Read for Body {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        while self.part.is_empty() {
            match self.parts.blocking_recv() {
                None => return Ok(0),
                Some(part) => self.part = part?,
            }
        }
        let n = self.part.len().min(into.len());
        into[..n].copy_from_slice(&self.part.split_to(n));
        Ok(n)
    }
}

/// Hands the parts of a body on until it ends, breaks off, or nobody reads it any more.
async fn hand_on(mut body: Incoming, parts: mpsc::Sender<std::io::Result<Bytes>>) {
    while let Some(frame) = body.frame().await {
        let part = match frame {
            Ok(frame) => frame.into_data().map_err(|_| ()),
            Err(e) => {
                // The reader may have gone.
                let _ = parts.send(Err(std::io::Error::other(e))).await;
                return;
            }
        };
        if let Ok(part) = part
            && parts.send(Ok(part)).await.is_err()
        {
            return;
        }
    }
}

/// Answers until the bench is over.
///
/// # Errors
/// That of the system if it gives no threads.
pub(super) fn serve(listener: std::net::TcpListener, shop: &Arc<Shop>) -> std::io::Result<()> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .max_blocking_threads(MOST_REQUESTS)
        .build()?;
    let served = runtime.block_on(async {
        let listener = TcpListener::from_std(listener)?;
        let room = Arc::new(Semaphore::new(MOST_REQUESTS));
        while !shop.is_over.load(Ordering::Relaxed) && !shop.is_deserted() {
            let Ok(came) = tokio::time::timeout(LOOK, listener.accept()).await else { continue };
            let Ok((stream, _)) = came else {
                // Too many connections at once, for example.
                tokio::time::sleep(LOOK).await;
                continue;
            };
            let (shop, room) = (Arc::clone(shop), Arc::clone(&room));
            tokio::spawn(async move {
                let service = hyper::service::service_fn(move |request| {
                    let (shop, room) = (Arc::clone(&shop), Arc::clone(&room));
                    async move { Ok::<_, Infallible>(answer(shop, room, request).await) }
                });
                let mut http = hyper::server::conn::http1::Builder::new();
                http.timer(TokioTimer::new()).header_read_timeout(PATIENCE);
                // A broken connection is the window's affair.
                let _ = http.serve_connection(TokioIo::new(stream), service).await;
            });
        }
        // The answer to whoever ended the bench is still on its way.
        tokio::time::sleep(LOOK).await;
        Ok(())
    });
    runtime.shutdown_timeout(FAREWELL);
    served
}

/// Answers a request. Work is done on threads of its own, and a fault in it is a sentence, not the end of the bench.
async fn answer(shop: Arc<Shop>, room: Arc<Semaphore>, request: Request<Incoming>) -> Response<Full<Bytes>> {
    let (path, query) = match admitted(&shop, &request) {
        Ok(found) => found,
        Err(refused) => return refused.response(),
    };
    let is_post = request.method() == Method::POST;
    let header = request.headers().get("content-length").and_then(|v| v.to_str().ok());
    let length = header.and_then(|v| v.parse().ok());
    let Ok(_place) = room.acquire_owned().await else {
        return Answer::refused(503, "the bench is closing").response();
    };
    let (sender, parts) = mpsc::channel(PARTS);
    let feeder = tokio::spawn(hand_on(request.into_body(), sender));
    let work = tokio::task::spawn_blocking(move || {
        let mut body = Body { parts, part: Bytes::new() };
        let mut asked = Asked { is_post, path, query, length, body: &mut body };
        catch_unwind(AssertUnwindSafe(|| routes::route(&shop, &mut asked))).unwrap_or_else(|_| {
            Answer::refused(
                500,
                "this is a fault in bladeform; nothing was changed; please report what was done",
            )
        })
    });
    let made = work.await.unwrap_or_else(|_| Answer::refused(503, "the bench is closing"));
    // What nobody reads is not waited for.
    feeder.abort();
    made.response()
}

/// Who may ask: with the token, under this machine's own name, and from no other page. Path and query behind the token.
///
/// # Errors
/// A refusal in one sentence.
fn admitted<T>(shop: &Shop, request: &Request<T>) -> Result<(String, String), Answer> {
    // A value that is no text is as foreign as another one.
    let header =
        |name: &str| request.headers().get(name).map(|v| String::from_utf8_lossy(v.as_bytes()).into_owned());
    let own = [format!("127.0.0.1:{}", shop.port), format!("localhost:{}", shop.port)];
    // Another name that leads here could be that of a foreign page.
    if !header("host").is_some_and(|host| own.contains(&host)) {
        return Err(Answer::refused(403, "the bench answers only under the address that it printed"));
    }
    if header("origin").is_some_and(|origin| !own.iter().any(|o| origin == format!("http://{o}"))) {
        return Err(Answer::refused(403, "a page from elsewhere may not use the bench"));
    }
    if ![Method::GET, Method::POST].contains(request.method()) {
        return Err(Answer::refused(405, "the bench answers GET and POST only"));
    }
    let (path, query) = (request.uri().path(), request.uri().query().unwrap_or_default());
    let behind = path.strip_prefix('/').and_then(|p| p.split_once('/'));
    match behind {
        Some((token, rest)) if is_same(token, &shop.token) => Ok((decoded(rest), query.to_owned())),
        _ => Err(Answer::refused(
            403,
            "this address lacks the word that belongs to it; use the whole address that the bench printed",
        )),
    }
}

/// Compares in a time that does not tell how much is right.
fn is_same(one: &str, two: &str) -> bool {
    one.len() == two.len() && one.bytes().zip(two.bytes()).fold(0, |d, (a, b)| d | (a ^ b)) == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_of_an_address_is_decoded() {
        assert_eq!(decoded("blade%204.ply"), "blade 4.ply");
        assert_eq!(decoded("100%"), "100%");
        assert_eq!(decoded("%C3%A9%zz"), "é%zz");
    }

    fn shop() -> Shop {
        let at = tempfile::tempdir().unwrap();
        Shop::new(at.path(), "word".to_owned(), 4321, 10, 1).unwrap()
    }

    #[test]
    fn only_the_users_own_windows_are_admitted() {
        let _alone = crate::interrupt::one_writer();
        let shop = shop();
        let status = |path: &str, headers: &[(&str, &str)]| {
            let mut request = Request::builder().uri(path);
            for (name, value) in headers {
                request = request.header(*name, *value);
            }
            admitted(&shop, &request.body(()).unwrap()).map_err(|refused| refused.status)
        };
        let host = ("host", "127.0.0.1:4321");
        assert_eq!(status("/word/state?a=1", &[host]), Ok(("state".to_owned(), "a=1".to_owned())));
        assert!(status("/word/", &[("host", "localhost:4321"), ("origin", "http://localhost:4321")]).is_ok());
        for (path, headers) in [
            ("/", vec![host]),
            ("/word", vec![host]),
            ("/other/state", vec![host]),
            ("/word/state", vec![]),
            ("/word/state", vec![("host", "example.org")]),
            ("/word/state", vec![("host", "127.0.0.1:80")]),
            ("/word/state", vec![host, ("origin", "http://example.org")]),
            ("/word/state", vec![host, ("origin", "null")]),
            ("/word/state", vec![host, ("origin", "http://127.0.0.1:80")]),
        ] {
            assert_eq!(status(path, &headers), Err(403), "{path} {headers:?}");
        }
    }

    #[test]
    fn tokens_are_compared_whole() {
        assert!(is_same("abc", "abc"));
        assert!(!is_same("abc", "abd") && !is_same("ab", "abc") && !is_same("", "a"));
    }
}
