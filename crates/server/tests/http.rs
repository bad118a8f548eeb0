//! Real requests over the loopback, read as bytes: no client tidies them up.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};

use ganosis_dossier::store::FolderStore;
use ganosis_server::{Site, serve};

struct Served {
    address: SocketAddr,
    _dir: tempfile::TempDir,
    stop: Option<tokio::sync::oneshot::Sender<()>>,
    thread: Option<std::thread::JoinHandle<()>>,
}

fn served() -> Served {
    let dir = tempfile::tempdir().unwrap();
    let (viewer, dossier) = (dir.path().join("viewer"), dir.path().join("dossier"));
    std::fs::create_dir_all(&viewer).unwrap();
    std::fs::create_dir_all(dossier.join(".git")).unwrap();
    std::fs::write(dir.path().join("secret"), "secret").unwrap();
    std::fs::write(dossier.join(".git/config"), "secret").unwrap();
    std::fs::write(viewer.join("index.html"), "<p>viewer</p>").unwrap();
    std::fs::write(viewer.join("a.wasm"), vec![0; 4000]).unwrap();
    std::fs::write(dossier.join("dossier.json"), "{}").unwrap();
    std::fs::write(dossier.join("a b.png"), "0123456789").unwrap();
    let store = FolderStore::open(&dossier).unwrap();
    let site = Site::new(&viewer, Box::new(store)).unwrap();
    let (stop, stopped) = tokio::sync::oneshot::channel();
    let (tell, told) = std::sync::mpsc::channel();
    let thread = std::thread::spawn(move || {
        tokio::runtime::Runtime::new().unwrap().block_on(async {
            let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
            tell.send(listener.local_addr().unwrap()).unwrap();
            let stop = async { drop(stopped.await) };
            serve(listener, site, stop).await.unwrap();
        });
    });
    Served {
        address: told.recv().unwrap(),
        _dir: dir,
        stop: Some(stop),
        thread: Some(thread),
    }
}

struct Answer {
    status: u16,
    head: String,
    body: Vec<u8>,
}

impl Answer {
    fn header(&self, name: &str) -> Option<&str> {
        self.head.lines().find_map(|line| {
            let (key, value) = line.split_once(": ")?;
            key.eq_ignore_ascii_case(name).then_some(value)
        })
    }
}

impl Served {
    fn raw(&self, request: &str) -> Answer {
        let mut stream = TcpStream::connect(self.address).unwrap();
        stream.write_all(request.as_bytes()).unwrap();
        let mut bytes = Vec::new();
        stream.read_to_end(&mut bytes).unwrap();
        let end = bytes
            .windows(4)
            .position(|four| four == b"\r\n\r\n")
            .unwrap();
        let head = String::from_utf8(bytes[..end].to_vec()).unwrap();
        let status = head[9..12].parse().unwrap();
        Answer {
            status,
            head,
            body: bytes[end + 4..].to_vec(),
        }
    }

    fn ask(&self, method: &str, path: &str, headers: &str) -> Answer {
        let host = self.address;
        self.raw(&format!(
            "{method} {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{headers}\r\n"
        ))
    }

    fn get(&self, path: &str, headers: &str) -> Answer {
        self.ask("GET", path, headers)
    }
}

#[test]
fn files_come_with_type_policy_and_tag() {
    let served = served();
    for (path, media_type, body) in [
        ("/", "text/html; charset=utf-8", &b"<p>viewer</p>"[..]),
        ("/dossier/dossier.json", "application/json", b"{}"),
        ("/dossier/a%20b.png", "image/png", b"0123456789"),
    ] {
        let answer = served.get(path, "");
        assert_eq!(
            (answer.status, answer.body.as_slice()),
            (200, body),
            "{path}"
        );
        assert_eq!(answer.header("content-type"), Some(media_type));
        assert!(
            answer
                .header("content-security-policy")
                .unwrap()
                .starts_with("default-src 'none';")
        );
        assert_eq!(answer.header("x-content-type-options"), Some("nosniff"));
        let tag = answer.header("etag").unwrap();
        let again = served.get(path, &format!("If-None-Match: \"x\", {tag}\r\n"));
        assert_eq!((again.status, again.body.len()), (304, 0), "{path}");
    }
}

/// RFC 9110 sections 14 and 15.
#[test]
fn parts_of_a_file_are_given() {
    let served = served();
    let path = "/dossier/a%20b.png";
    let part = served.get(path, "Range: bytes=2-4\r\n");
    assert_eq!((part.status, part.body.as_slice()), (206, &b"234"[..]));
    assert_eq!(part.header("content-range"), Some("bytes 2-4/10"));
    let beyond = served.get(path, "Range: bytes=10-\r\n");
    assert_eq!(
        (beyond.status, beyond.header("content-range")),
        (416, Some("bytes */10"))
    );
    let several = served.get(path, "Range: bytes=0-1,3-4\r\n");
    assert_eq!((several.status, several.body.len()), (200, 10));
    let changed = served.get(path, "Range: bytes=2-4\r\nIf-Range: \"other\"\r\n");
    assert_eq!((changed.status, changed.body.len()), (200, 10));
    let tag = part.header("etag").unwrap();
    let same = served.get(path, &format!("Range: bytes=2-4\r\nIf-Range: {tag}\r\n"));
    assert_eq!(same.status, 206);
    let head = served.ask("HEAD", path, "Range: bytes=2-4\r\n");
    assert_eq!(
        (head.status, head.body.len(), head.header("content-length")),
        (200, 0, Some("10"))
    );
}

#[test]
fn code_is_compressed_and_images_are_not() {
    let served = served();
    for coding in ["gzip", "br"] {
        let accept = format!("Accept-Encoding: {coding}\r\n");
        let wasm = served.get("/a.wasm", &accept);
        assert_eq!(wasm.header("content-encoding"), Some(coding));
        assert_eq!(wasm.header("content-type"), Some("application/wasm"));
        assert!(wasm.body.len() < 1000 && wasm.header("etag").unwrap().starts_with("W/"));
        assert_eq!(
            served
                .get("/dossier/a%20b.png", &accept)
                .header("content-encoding"),
            None
        );
        let part = served.get("/a.wasm", &format!("{accept}Range: bytes=0-99\r\n"));
        assert_eq!(
            (
                part.status,
                part.header("content-encoding"),
                part.body.len()
            ),
            (206, None, 100)
        );
    }
}

#[test]
fn nothing_outside_the_two_folders_is_given() {
    let served = served();
    for path in [
        "/../secret",
        "/dossier/../secret",
        "/dossier/../../secret",
        "/dossier/%2e%2e/secret",
        "/dossier/..%2f..%2fsecret",
        "/dossier/..%5c..%5csecret",
        "/dossier/%2fetc/passwd",
        "/dossier/.git/config",
        "/dossier/none.png",
        "/dossier/",
        "/none",
        "/dossier/%00",
    ] {
        let answer = served.get(path, "");
        assert!(
            matches!(answer.status, 400 | 404),
            "{path}: {}",
            answer.status
        );
        let body = String::from_utf8(answer.body).unwrap();
        assert!(
            body.len() > 10 && !body.starts_with("secret"),
            "{path}: {body}"
        );
    }
    assert_eq!(served.ask("POST", "/", "Content-Length: 0\r\n").status, 405);
}

#[test]
fn a_foreign_name_gets_no_answer() {
    let served = served();
    let ask = |host: &str| {
        served
            .raw(&format!(
                "GET / HTTP/1.1\r\n{host}Connection: close\r\n\r\n"
            ))
            .status
    };
    assert_eq!(ask("Host: rebound.example.org\r\n"), 421);
    assert_eq!(ask("Host: localhost:1\r\n"), 200);
    assert_eq!(ask(""), 400);
}

#[test]
fn the_server_stops_when_told() {
    let mut served = served();
    assert_eq!(served.get("/", "").status, 200);
    served.stop.take().unwrap().send(()).unwrap();
    served.thread.take().unwrap().join().unwrap();
    assert!(TcpStream::connect(served.address).is_err());
}
