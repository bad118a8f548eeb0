//! A server on the loopback for a test, and requests as bytes.
#![allow(
    dead_code,
    unreachable_pub,
    reason = "each test file uses its part, and is a crate of its own"
)]

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::{Path, PathBuf};

use ganosis_server::{Site, serve};

pub struct Served {
    pub address: SocketAddr,
    pub dossier: PathBuf,
    _dir: tempfile::TempDir,
    stop: Option<tokio::sync::oneshot::Sender<()>>,
    thread: Option<std::thread::JoinHandle<()>>,
}

/// Serves what `make` puts into the folders of the viewer and of the dossier.
pub fn served_site(make: impl FnOnce(&Path, &Path) -> Site) -> Served {
    let dir = tempfile::tempdir().unwrap();
    let (viewer, dossier) = (dir.path().join("viewer"), dir.path().join("dossier"));
    std::fs::create_dir_all(&viewer).unwrap();
    std::fs::create_dir_all(&dossier).unwrap();
    std::fs::write(viewer.join("index.html"), "<p>viewer</p>").unwrap();
    let site = make(&viewer, &dossier);
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
        dossier,
        _dir: dir,
        stop: Some(stop),
        thread: Some(thread),
    }
}

pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: Vec<u8>,
}

impl Answer {
    pub fn header(&self, name: &str) -> Option<&str> {
        self.head.lines().find_map(|line| {
            let (key, value) = line.split_once(": ")?;
            key.eq_ignore_ascii_case(name).then_some(value)
        })
    }
}

impl Served {
    pub fn raw(&self, request: &[u8]) -> Answer {
        let mut stream = TcpStream::connect(self.address).unwrap();
        // A server that refuses early may close before all is sent.
        let _ = stream.write_all(request);
        let mut bytes = Vec::new();
        let _ = stream.read_to_end(&mut bytes);
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

    pub fn ask(&self, method: &str, path: &str, headers: &str) -> Answer {
        let host = self.address;
        let request = format!(
            "{method} {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{headers}\r\n"
        );
        self.raw(request.as_bytes())
    }

    pub fn get(&self, path: &str, headers: &str) -> Answer {
        self.ask("GET", path, headers)
    }

    pub fn put(&self, path: &str, headers: &str, body: &[u8]) -> Answer {
        let (host, length) = (self.address, body.len());
        let mut request = format!(
            "PUT {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\nContent-Length: {length}\r\n{headers}\r\n"
        )
        .into_bytes();
        request.extend_from_slice(body);
        self.raw(&request)
    }

    pub fn stop(&mut self) {
        self.stop.take().unwrap().send(()).unwrap();
        self.thread.take().unwrap().join().unwrap();
    }
}
