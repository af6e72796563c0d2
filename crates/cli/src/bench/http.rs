//! HTTP of the bench: who may ask, and how answers are written. Nothing else of the program knows the server library.

use std::io::{Cursor, Read};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use serde_json::{Value, json};
use tiny_http::{Header, Method, Request, Response, StatusCode};

use super::{Shop, routes};

/// Most bytes of a request that is not a file: choices and rays are short.
const MOST_BYTES: u64 = 1_000_000;

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

    pub(super) fn with_status(self, status: u16) -> Self {
        Self { status, ..self }
    }

    pub(super) fn shut_in(self) -> Self {
        Self { is_shut_in: true, ..self }
    }

    pub(super) fn to_save(self, name: &str) -> Self {
        Self { download: Some(name.to_owned()), ..self }
    }

    fn response(self) -> Response<Cursor<Vec<u8>>> {
        let mut response = Response::from_data(self.body).with_status_code(StatusCode(self.status));
        let policy = if self.is_shut_in { SHUT_IN } else { POLICY };
        let plain: String = self
            .download
            .iter()
            .flat_map(|n| n.chars())
            .filter(|c| c.is_ascii_graphic() && *c != '"')
            .collect();
        let saved = format!("attachment; filename=\"{plain}\"");
        let mut headers = vec![
            ("Content-Type", self.kind),
            ("Content-Security-Policy", policy),
            ("X-Content-Type-Options", "nosniff"),
            ("Referrer-Policy", "no-referrer"),
            ("Cache-Control", "no-store"),
            ("Cross-Origin-Resource-Policy", "same-origin"),
            ("Cross-Origin-Opener-Policy", "same-origin"),
        ];
        if self.download.is_some() {
            headers.push(("Content-Disposition", &saved));
        }
        for (name, value) in headers {
            if let Ok(header) = Header::from_bytes(name.as_bytes(), value.as_bytes()) {
                response.add_header(header);
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

/// Says that too many requests are open.
pub(super) fn busy(request: Request) {
    let refused = Answer::refused(503, "too many requests at once; try again");
    // The window may be gone.
    let _ = request.respond(refused.response());
}

/// Answers a request. A fault in the work of an answer is a sentence, not the end of the bench.
pub(super) fn answer(shop: &Arc<Shop>, mut request: Request) {
    let made = match admitted(shop, &request) {
        Err(refused) => refused,
        Ok((path, query)) => {
            let is_post = *request.method() == Method::Post;
            let length = request.body_length().map(|n| n as u64);
            let mut asked = Asked { is_post, path, query, length, body: request.as_reader() };
            catch_unwind(AssertUnwindSafe(|| routes::route(shop, &mut asked))).unwrap_or_else(|_| {
                Answer::refused(
                    500,
                    "this is a fault in bladeform; nothing was changed; please report what was done",
                )
            })
        }
    };
    let _ = request.respond(made.response());
}

/// Who may ask: with the token, under this machine's own name, and from no other page. Path and query behind the token.
///
/// # Errors
/// A refusal in one sentence.
fn admitted(shop: &Shop, request: &Request) -> Result<(String, String), Answer> {
    let header = |name: &'static str| {
        let found = request.headers().iter().find(|h| h.field.equiv(name));
        found.map(|h| h.value.as_str().to_owned())
    };
    let own = [format!("127.0.0.1:{}", shop.port), format!("localhost:{}", shop.port)];
    // Another name that leads here could be that of a foreign page.
    if !header("Host").is_some_and(|host| own.contains(&host)) {
        return Err(Answer::refused(403, "the bench answers only under the address that it printed"));
    }
    if header("Origin").is_some_and(|origin| !own.iter().any(|o| origin == format!("http://{o}"))) {
        return Err(Answer::refused(403, "a page from elsewhere may not use the bench"));
    }
    if ![Method::Get, Method::Post].contains(request.method()) {
        return Err(Answer::refused(405, "the bench answers GET and POST only"));
    }
    let (path, query) = request.url().split_once('?').unwrap_or((request.url(), ""));
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

    #[test]
    fn tokens_are_compared_whole() {
        assert!(is_same("abc", "abc"));
        assert!(!is_same("abc", "abd") && !is_same("ab", "abc") && !is_same("", "a"));
    }
}
