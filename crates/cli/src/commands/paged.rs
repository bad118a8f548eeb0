//! A page of HTML as a PDF, printed by an installed Chromium.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::Context;
use ganosis_dossier::write::write_atomically;

use crate::trouble::Trouble;

/// Names under which Chromium and its kin are installed; the variable `CHROMIUM` goes before them.
const NAMES: [&str; 5] = [
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
];

/// Longer than the largest report takes by far; a browser that hangs is ended then.
const PATIENCE: Duration = Duration::from_secs(180);

/// A size of paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Paper {
    /// ISO 216, 210 × 297 mm
    A4,
    /// ANSI/ASME Y14.1, 8.5 × 11 in
    Letter,
}

impl Paper {
    /// As CSS Paged Media 3, section 5.1, names it.
    fn css(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::Letter => "letter",
        }
    }
}

/// The page with the paper it is to be printed on.
fn on_paper(html: &str, paper: Paper) -> String {
    let style = format!("<style>@page {{ size: {} }}</style></head>", paper.css());
    html.replacen("</head>", &style, 1)
}

/// A PDF to be written, and the browser that prints it.
#[derive(Debug)]
pub(crate) struct Printing<'a> {
    path: &'a Path,
    paper: Paper,
    browser: PathBuf,
}

impl<'a> Printing<'a> {
    /// Finds the browser, before anything is done that takes long.
    pub(crate) fn to(path: &'a Path, paper: Paper) -> anyhow::Result<Self> {
        let browser = chromium().ok_or_else(|| {
            Trouble::error(
                "a PDF needs Chromium, and none was found",
                path.display(),
                "Install it (Debian, Ubuntu: apt-get install chromium), name it by the variable CHROMIUM, or write the report as HTML (--report) and print that.",
            )
        })?;
        Ok(Self {
            path,
            paper,
            browser,
        })
    }
}

/// Prints `html`, complete or not at all.
///
/// The browser gets a profile of its own, which is removed, and no network.
pub(crate) fn write(printing: &Printing, html: &str) -> anyhow::Result<()> {
    let Printing {
        path,
        paper,
        browser,
    } = printing;
    let folder = tempfile::tempdir().context("no temporary folder could be made")?;
    let source = folder.path().join("report.html");
    let target = folder.path().join("report.pdf");
    std::fs::write(&source, on_paper(html, *paper))
        .context("the report could not be written for printing")?;
    let mut command = Command::new(browser);
    command
        .args([
            "--headless",
            "--disable-gpu",
            "--no-first-run",
            "--no-pdf-header-footer",
        ])
        // What the report names lies inside it: nothing is fetched.
        .arg("--host-resolver-rules=MAP * ~NOTFOUND")
        .arg(format!(
            "--user-data-dir={}",
            folder.path().join("profile").display()
        ))
        .arg(format!("--print-to-pdf={}", target.display()))
        .arg(&source)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    if is_root() {
        // Chromium's sandbox refuses to start for root; the report carries no script.
        command.arg("--no-sandbox");
    }
    run(command, browser)?;
    let pdf = std::fs::read(&target).unwrap_or_default();
    // ISO 32000-2, 7.5.2: a PDF begins with this header.
    if !pdf.starts_with(b"%PDF-") {
        return Err(Trouble::error(
            "the browser printed no PDF",
            browser.display(),
            "Write the report as HTML (--report) and print that.",
        ));
    }
    write_atomically(path, &pdf).context("the PDF could not be written")
}

fn run(mut command: Command, browser: &Path) -> anyhow::Result<()> {
    let failed = |what: String| {
        Trouble::error(
            what,
            browser.display(),
            "Write the report as HTML (--report) and print that.",
        )
    };
    let mut child = command
        .spawn()
        .map_err(|error| failed(format!("the browser could not be started ({error})")))?;
    let start = Instant::now();
    loop {
        match child.try_wait() {
            Ok(Some(_)) => return Ok(()),
            Ok(None) if start.elapsed() < PATIENCE => {
                std::thread::sleep(Duration::from_millis(50));
            }
            Ok(None) => {
                let _ = child.kill();
                let _ = child.wait();
                return Err(failed(format!(
                    "the browser printed nothing in {} s",
                    PATIENCE.as_secs()
                )));
            }
            Err(error) => {
                return Err(failed(format!(
                    "the browser could not be waited for ({error})"
                )));
            }
        }
    }
}

fn chromium() -> Option<PathBuf> {
    if let Some(named) = std::env::var_os("CHROMIUM").filter(|name| !name.is_empty()) {
        return Some(PathBuf::from(named));
    }
    let folders = std::env::var_os("PATH")?;
    std::env::split_paths(&folders)
        .flat_map(|folder| NAMES.map(|name| folder.join(name)))
        .find(|file| file.is_file())
}

/// The owner of a process's own entry is who runs it.
fn is_root() -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        std::fs::metadata("/proc/self").is_ok_and(|entry| entry.uid() == 0)
    }
    #[cfg(not(unix))]
    {
        false
    }
}
