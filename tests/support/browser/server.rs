//! A static host for the built app, and a wall behind which nothing answers: both write down what was asked of them.

use super::{Fault, say};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::{Component, Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::UNIX_EPOCH;

/// Serves a folder on this machine, as any plain static host would: no headers of policy, no compression; a file that the
/// browser has already is not sent again, but it has to ask each time.
#[derive(Debug)]
pub struct Host {
    origin: String,
    asked: Record,
    /// What it serves now; none: it answers nothing, as if there were no network.
    folder: Arc<Mutex<Option<PathBuf>>>,
}

/// A proxy that lets nothing through, so that what it was asked for is what tried to leave the page's own origin.
#[derive(Debug)]
pub struct Wall {
    address: String,
    asked: Record,
}

type Record = Arc<Mutex<Vec<String>>>;

/// What is asked for, and the state of it that the browser has already.
struct Request {
    target: String,
    has: Option<String>,
}

impl Host {
    /// Serves `folder` until the test ends.
    pub fn start(folder: PathBuf) -> Result<Self, Fault> {
        let folder = Arc::new(Mutex::new(Some(folder)));
        let served = Arc::clone(&folder);
        let (address, asked) = listen("host", move |request, stream| {
            let now = served.lock().unwrap_or_else(PoisonError::into_inner);
            let now = now.clone();
            now.map_or(Ok(()), |folder| serve(&folder, request, stream))
        })?;
        Ok(Self {
            origin: format!("http://{address}"),
            asked,
            folder,
        })
    }

    /// Serves another folder from now on; none: answers nothing.
    pub fn serve(&self, folder: Option<PathBuf>) {
        *self.folder.lock().unwrap_or_else(PoisonError::into_inner) = folder;
    }

    /// `http://127.0.0.1:PORT`, without a slash at its end.
    pub fn origin(&self) -> &str {
        &self.origin
    }

    /// Takes the paths asked for since the last time.
    pub fn take_asked(&self) -> Vec<String> {
        std::mem::take(&mut self.asked.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl Wall {
    /// Stands until the test ends.
    pub fn start() -> Result<Self, Fault> {
        let (address, asked) = listen("wall", |_request, stream| {
            answer(stream, "403 Forbidden", "Content-Type: text/plain", b"")
        })?;
        Ok(Self { address, asked })
    }

    /// `127.0.0.1:PORT`.
    pub fn address(&self) -> &str {
        &self.address
    }

    /// Takes the addresses asked for since the last time.
    pub fn take_asked(&self) -> Vec<String> {
        std::mem::take(&mut self.asked.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// Answers on a free port, each connection in a thread of its own.
fn listen(
    name: &str,
    reply: impl Fn(&Request, &mut TcpStream) -> std::io::Result<()> + Send + Sync + 'static,
) -> Result<(String, Record), Fault> {
    let listener = TcpListener::bind("127.0.0.1:0")?;
    let address = listener.local_addr()?.to_string();
    let asked = Record::default();
    let (record, reply) = (Arc::clone(&asked), Arc::new(reply));
    thread(name, move || {
        for mut stream in listener.incoming().flatten() {
            let (record, reply) = (Arc::clone(&record), Arc::clone(&reply));
            let spawned = thread("connection", move || {
                let Some(request) = read_request(&mut stream) else {
                    return;
                };
                record
                    .lock()
                    .unwrap_or_else(PoisonError::into_inner)
                    .push(request.target.clone());
                // A browser may hang up on an answer it no longer wants; what it missed shows in the page.
                reply(&request, &mut stream).ok();
            });
            if let Err(error) = spawned {
                say(&format!("no thread for a connection: {error}"));
            }
        }
    })?;
    Ok((address, asked))
}

fn thread(name: &str, work: impl FnOnce() + Send + 'static) -> std::io::Result<()> {
    std::thread::Builder::new()
        .name(name.to_owned())
        .spawn(work)
        .map(|_runs_on| ())
}

/// Reads a request to the end of its head; the browser sends no bodies here.
fn read_request(stream: &mut TcpStream) -> Option<Request> {
    const LONGEST_HEAD: u64 = 65_536;
    let mut reader = BufReader::new(Read::by_ref(stream).take(LONGEST_HEAD));
    let mut line = String::new();
    reader.read_line(&mut line).ok()?;
    let target = line.split_whitespace().nth(1)?.to_owned();
    let mut has = None;
    line.clear();
    while reader.read_line(&mut line).ok()? > 2 {
        if let Some((name, value)) = line.split_once(':')
            && name.eq_ignore_ascii_case("if-none-match")
        {
            has = Some(value.trim().to_owned());
        }
        line.clear();
    }
    Some(Request { target, has })
}

fn serve(folder: &Path, request: &Request, stream: &mut TcpStream) -> std::io::Result<()> {
    let path = Path::new(
        request
            .target
            .split(['?', '#'])
            .next()
            .unwrap_or_default()
            .trim_start_matches('/'),
    );
    let inside = path
        .components()
        .all(|part| matches!(part, Component::Normal(_)));
    let file = if path.as_os_str().is_empty() {
        folder.join("index.html")
    } else {
        folder.join(path)
    };
    match (state_of(&file), std::fs::read(&file)) {
        (Some(state), Ok(bytes)) if inside => {
            let same = request.has.as_ref() == Some(&state);
            let kind = media_type(&file);
            // The state and no date: by a date, a browser would take a file for fresh and not ask.
            let says = format!("Content-Type: {kind}\r\nETag: {state}");
            if same {
                return write!(
                    stream,
                    "HTTP/1.1 304 Not Modified\r\n{says}\r\nConnection: close\r\n\r\n"
                );
            }
            answer(stream, "200 OK", &says, &bytes)
        }
        _ => answer(stream, "404 Not Found", "Content-Type: text/plain", b""),
    }
}

/// The state of a file by its size and the time it was written, as static hosts tell it.
fn state_of(file: &Path) -> Option<String> {
    let about = std::fs::metadata(file).ok()?;
    let written = about.modified().ok()?.duration_since(UNIX_EPOCH).ok()?;
    Some(format!("\"{:x}-{:x}\"", written.as_nanos(), about.len()))
}

fn answer(stream: &mut TcpStream, status: &str, says: &str, body: &[u8]) -> std::io::Result<()> {
    let length = body.len();
    write!(
        stream,
        "HTTP/1.1 {status}\r\n{says}\r\nContent-Length: {length}\r\nConnection: close\r\n\r\n"
    )?;
    stream.write_all(body)
}

fn media_type(file: &Path) -> &'static str {
    match file.extension().and_then(|extension| extension.to_str()) {
        Some("html") => "text/html; charset=utf-8",
        Some("js") => "text/javascript",
        Some("wasm") => "application/wasm",
        Some("css") => "text/css",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        Some("woff2") => "font/woff2",
        Some("json") => "application/json",
        Some("webmanifest") => "application/manifest+json",
        Some("csv") => "text/csv",
        _ => "application/octet-stream",
    }
}
