//! The program is killed in the middle of saves, again and again: what is on
//! the disk afterwards is always whole, and holds all that was confirmed.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Mutex;
use std::time::{Duration, Instant};

use ganosis_dossier::document_from_bytes;
use ganosis_dossier::store::{FolderStore, Store};
use serde_json::{Value, json};

const KILLS: u32 = 200;
const CLIENTS: usize = 2;

/// Longest time from the first request, or from the first save that is
/// confirmed, to the kill, microseconds: about one save, so that every step of
/// one is hit.
const LONGEST_US: u64 = 40_000;

/// Longest wait for a first save on a machine that is busy.
const PATIENCE: Duration = Duration::from_secs(5);

/// Bytes of an attachment: several writes of the operating system.
const ATTACHMENT_BYTES: usize = 100_000;

/// `SplitMix64` (Steele, Lea and Flood, "Fast splittable pseudorandom number
/// generators", OOPSLA 2014).
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
}

fn start(dossier: &Path, viewer: &Path) -> (Child, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_ganosis"))
        .args(["open", "--edit", "--no-browser", "--port", "0", "--viewer"])
        .args([viewer, dossier])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.as_mut().unwrap())
        .read_line(&mut line)
        .unwrap();
    let address = line.strip_prefix("http://").unwrap();
    let address = address.split('/').next().unwrap().to_owned();
    (child, address)
}

/// Status and body; `None` once the server is gone.
fn ask(address: &str, request: &str, headers: &str, body: &[u8]) -> Option<(u16, Vec<u8>)> {
    let mut stream = TcpStream::connect(address).ok()?;
    let length = body.len();
    let head = format!(
        "{request} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\nContent-Length: {length}\r\n{headers}\r\n"
    );
    stream.write_all(head.as_bytes()).ok()?;
    stream.write_all(body).ok()?;
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes).ok()?;
    let end = bytes.windows(4).position(|four| four == b"\r\n\r\n")?;
    let stated: Option<usize> = String::from_utf8_lossy(&bytes[..end])
        .lines()
        .find_map(|line| line.strip_prefix("content-length: ")?.parse().ok());
    let status = std::str::from_utf8(bytes.get(9..12)?).ok()?.parse().ok()?;
    let body = bytes.split_off(end + 4);
    // An answer that was cut off is none.
    stated
        .is_none_or(|stated| stated == body.len())
        .then_some((status, body))
}

/// What an attachment must hold, told by its name alone.
fn content_of(file: &str) -> Vec<u8> {
    file.bytes().cycle().take(ATTACHMENT_BYTES).collect()
}

#[derive(Default)]
struct Ledger {
    sent: BTreeSet<String>,
    confirmed: BTreeSet<String>,
}

/// Adds one observation with an attachment after the other until the server is gone.
fn client(address: &str, name: &str, ledger: &Mutex<Ledger>) -> Option<()> {
    for number in 0.. {
        let id = format!("{name}-{number}");
        let file = format!("evidence/{id}.csv");
        ask(
            address,
            &format!("PUT /dossier/files/{file}"),
            "",
            &content_of(&file),
        )?;
        ledger.lock().unwrap().sent.insert(id.clone());
        loop {
            let (_, body) = ask(address, "GET /dossier/dossier.json", "", b"")?;
            let mut document: Value = serde_json::from_slice(&body).unwrap();
            let revision = document["revision"].as_u64().unwrap();
            let item = json!({"id": id, "technique": "xrf", "attachments": [{"file": file}]});
            document["evidence"].as_array_mut().unwrap().push(item);
            let headers = format!("If-Match: \"{revision}\"\r\n");
            let body = document.to_string();
            match ask(
                address,
                "PUT /dossier/dossier.json",
                &headers,
                body.as_bytes(),
            )?
            .0
            {
                200 => break,
                412 => {}
                other => panic!("{other}"),
            }
        }
        ledger.lock().unwrap().confirmed.insert(id);
    }
    None
}

/// Reads everything on the disk as a program would that starts afresh.
fn expect_whole(dossier: &Path, first: u64, ledger: &Ledger) {
    let bytes = std::fs::read(dossier.join("dossier.json")).unwrap();
    let reading = document_from_bytes(&bytes).unwrap();
    assert!(reading.findings.is_empty(), "{:?}", reading.findings);
    let document = reading.document;
    // One save adds one observation, so none was done twice or half.
    assert_eq!(document.revision - first, document.evidence.len() as u64);
    let ids: BTreeSet<String> = document.evidence.iter().map(|e| e.id.clone()).collect();
    assert_eq!(ids.len(), document.evidence.len());
    let lost: Vec<_> = ledger.confirmed.difference(&ids).collect();
    assert!(lost.is_empty(), "confirmed and lost: {lost:?}");
    assert!(
        ids.is_subset(&ledger.sent),
        "nobody sent some of these: {ids:?}"
    );
    let store = FolderStore::open(dossier).unwrap();
    for item in &document.evidence {
        let file = &item.attachments[0].file;
        assert_eq!(store.size(file).unwrap(), ATTACHMENT_BYTES as u64, "{file}");
    }
    if let Ok(bytes) = std::fs::read(dossier.join(".dossier.previous.json")) {
        assert!(document_from_bytes(&bytes).unwrap().findings.is_empty());
    }
}

#[test]
fn a_server_killed_while_saving_leaves_a_whole_dossier_every_time() {
    let (dir, viewer) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    std::fs::write(viewer.path().join("index.html"), "").unwrap();
    let dossier = dir.path();
    let first = json!({"format": "ganosis-dossier/1", "id": "boss", "revision": 1, "title": "Boss",
        "description": "x".repeat(50_000), "surface": {"file": "s.gltf"}, "evidence": []});
    std::fs::write(dossier.join("dossier.json"), first.to_string()).unwrap();
    std::fs::write(dossier.join("s.gltf"), r#"{"asset": {"version": "2.0"}}"#).unwrap();
    let mut random = Random(20_251_103);
    let ledger = Mutex::new(Ledger::default());
    let mut hit = 0;
    for kill in 0..KILLS {
        let (mut child, address) = start(dossier, viewer.path());
        let before = ledger.lock().unwrap().confirmed.len();
        std::thread::scope(|scope| {
            for n in 0..CLIENTS {
                let (address, ledger) = (&address, &ledger);
                scope.spawn(move || client(address, &format!("k{kill}-c{n}"), ledger));
            }
            // Every other server has saved once when its moment comes.
            let (waits, started) = (random.next().is_multiple_of(2), Instant::now());
            while waits
                && ledger.lock().unwrap().confirmed.len() == before
                && started.elapsed() < PATIENCE
            {
                std::thread::sleep(Duration::from_millis(1));
            }
            std::thread::sleep(Duration::from_micros(random.next() % LONGEST_US));
            // SIGKILL: no handler runs, nothing is finished.
            child.kill().unwrap();
            child.wait().unwrap();
        });
        let ledger = ledger.lock().unwrap();
        hit += u32::from(ledger.confirmed.len() > before);
        expect_whole(dossier, 1, &ledger);
    }
    // Every file that is there at all is whole, named by the document or not.
    for entry in std::fs::read_dir(dossier.join("evidence")).unwrap() {
        let entry = entry.unwrap();
        let file = format!("evidence/{}", entry.file_name().to_string_lossy());
        assert!(
            std::fs::read(entry.path()).unwrap() == content_of(&file),
            "{file}"
        );
    }
    // Starting again takes away what killed programs left half-way.
    let (mut child, _) = start(dossier, viewer.path());
    child.kill().unwrap();
    child.wait().unwrap();
    let mut names = std::fs::read_dir(dossier).unwrap().flatten();
    assert!(names.all(|entry| !entry.file_name().to_string_lossy().starts_with(".saving-")));
    // The moments must have been such that saving was under way.
    assert!(
        hit > KILLS / 4,
        "only {hit} of {KILLS} servers had confirmed a save"
    );
    let confirmed = ledger.lock().unwrap().confirmed.len();
    println!("{hit} of {KILLS} killed after a save of theirs; {confirmed} saves confirmed");
}
