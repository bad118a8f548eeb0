//! Every test there is, in an order that tells early what is wrong.

use std::path::Path;
use std::sync::Mutex;
use std::time::Instant;

use anyhow::{Context as _, Result, anyhow, bail};

use super::tally::Tally;
use super::{demo, release, tidy, web};
use crate::toolchain::WasmToolchain;
use crate::{install, lane, lints, process, workspace};

/// Which steps to run.
#[derive(clap::Args, Clone, Default)]
pub(crate) struct Options {
    /// Run only this step (may be given several times): fmt, tidy, clippy, rust, web, site, demo, e2e;
    /// outside: only install the validators of others
    #[arg(long, value_name = "STEP")]
    only: Vec<String>,
    /// Show everything that the steps print, not only failures
    #[arg(long)]
    verbose: bool,
}

/// A step's name and what it counts.
type Step = (&'static str, fn(bool) -> Result<Tally>);

/// Steps done side by side: those of the page end in long stretches on one processor.
const CODE: [Step; 4] = [
    ("fmt", fmt),
    ("tidy", check_tidy),
    ("clippy", clippy),
    ("rust", rust),
];
const PAGE: [Step; 2] = [("web", web_checks), ("site", site)];
/// Steps that need what those made, and the machine to themselves.
const WHOLE: [Step; 2] = [("demo", make_demo), ("e2e", e2e)];
/// Steps that are done only if named: others have them within.
const NAMED: [Step; 1] = [("outside", outside)];

/// A step that was run: its name, seconds and counts.
type Done = (&'static str, f64, Tally);

/// Runs the steps; every one runs even if one before it failed.
pub(crate) fn run(options: &Options) -> Result<()> {
    let steps = || CODE.iter().chain(&PAGE).chain(&WHOLE).chain(&NAMED);
    for name in &options.only {
        if !steps().any(|(step, _)| step == name) {
            let known: Vec<&str> = steps().map(|(step, _)| *step).collect();
            bail!(
                "there is no step {name}; the steps are {}",
                known.join(", ")
            );
        }
    }
    let wanted = |steps: &[Step]| -> Vec<Step> {
        let chosen = steps.iter().filter(|(name, _)| {
            options.only.is_empty() || options.only.iter().any(|only| only == name)
        });
        chosen.copied().collect()
    };
    let (code, page) = (wanted(&CODE), wanted(&PAGE));
    let named = options.only.iter().any(|only| only == NAMED[0].0);
    let mut done = if code.is_empty() || page.is_empty() {
        one_by_one(&[code, page].concat(), options.verbose)
    } else {
        side_by_side(&code, &page, options.verbose)?
    };
    done.extend(one_by_one(&wanted(&WHOLE), options.verbose));
    if named {
        done.extend(one_by_one(&NAMED, options.verbose));
    }
    println!("== summary");
    let mut total = Tally::default();
    for (name, seconds, tally) in done {
        println!("  {name:<8} {seconds:>7.1} s   {tally}");
        total = total + tally;
    }
    println!("{total}");
    if total.failed > 0 || total.passed == 0 {
        bail!("not all tests passed");
    }
    Ok(())
}

fn side_by_side(code: &[Step], page: &[Step], verbose: bool) -> Result<Vec<Done>> {
    std::thread::scope(|scope| {
        let page = scope.spawn(|| lane::run("page", false, || one_by_one(page, verbose)));
        let mut done = lane::run("code", false, || one_by_one(code, verbose));
        let page = page.join();
        done.extend(page.map_err(|_| anyhow!("the tests of the page broke off: see above"))?);
        Ok(done)
    })
}

fn one_by_one(steps: &[Step], verbose: bool) -> Vec<Done> {
    let counted = steps.iter().map(|(name, step)| {
        lane::say(&format!("== {name}"));
        let start = Instant::now();
        let tally = step(verbose).unwrap_or_else(|error| {
            lane::say(&format!("{error:#}"));
            Tally {
                failed: 1,
                ..Tally::default()
            }
        });
        (*name, start.elapsed().as_secs_f64(), tally)
    });
    counted.collect()
}

fn fmt(_verbose: bool) -> Result<Tally> {
    process::run(process::command("cargo").args(["fmt", "--all", "--check"]))?;
    Ok(Tally::one_passed())
}

fn check_tidy(_verbose: bool) -> Result<Tally> {
    tidy::run(&tidy::Options::default())?;
    Ok(Tally::one_passed())
}

fn clippy(_verbose: bool) -> Result<Tally> {
    // Everything that is compiled later for tests is compiled here, by the compiler with lints.
    let mut cargo = process::command("cargo");
    cargo.args(["build", "--all-targets"]).args(demo::TESTED);
    lints::build(&mut cargo)?;
    let mut cargo = process::command("cargo");
    cargo.args(["clippy", "--quiet", "--package", demo::APART]);
    process::run(cargo.args(["--", "-D", "warnings"]))?;
    let mut tally = Tally::one_passed();
    // Debian's compiler for the browser comes without clippy.
    if WasmToolchain::find()? == WasmToolchain::Rustup {
        // Together: each by itself would have dependencies checked anew.
        let mut cargo = WasmToolchain::Rustup.cargo("clippy");
        cargo.args(["--quiet", "--no-default-features"]);
        for package in ["viewer", "porter", "desk", "tripod"] {
            cargo.args(["--package", &format!("ganosis-{package}")]);
        }
        cargo.args(["--features", "ganosis-viewer/webgpu,ganosis-viewer/webgl"]);
        process::run(cargo.args(["--", "-D", "warnings"]))?;
        tally = tally + Tally::one_passed();
    } else {
        lane::say("  skipped: clippy for the browser needs the target by rustup");
        tally = tally
            + Tally {
                skipped: 1,
                ..Tally::default()
            };
    }
    Ok(tally)
}

fn rust(verbose: bool) -> Result<Tally> {
    needs_vulkan()?;
    let python = install::python()?;
    install::npm_ci("tests/e2e")?;
    let mut cargo = process::command("cargo");
    cargo.env("GANOSIS_PYTHON", python);
    lints::compile_by_clippy(&mut cargo)?;
    cargo.arg("test").args(demo::TESTED);
    cargo.args(["--no-fail-fast", "--color", "never", "--", "--nocapture"]);
    Tally::from_cargo(&mut cargo, verbose)
}

/// Installs the validators of others, for `cargo test` by hand.
fn outside(_verbose: bool) -> Result<Tally> {
    install::python()?;
    install::npm_ci("tests/e2e")?;
    Ok(Tally::one_passed())
}

/// Pictures and shaders are tested on a Vulkan device; a software one will do.
fn needs_vulkan() -> Result<()> {
    let folders = ["/usr/share/vulkan/icd.d", "/etc/vulkan/icd.d"];
    let has_driver = folders
        .iter()
        .any(|folder| std::fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_some()));
    let loader = [
        "/usr/lib/x86_64-linux-gnu/libvulkan.so.1",
        "/usr/lib/aarch64-linux-gnu/libvulkan.so.1",
        "/usr/lib64/libvulkan.so.1",
        "/usr/lib/libvulkan.so.1",
    ];
    let has_loader = loader.iter().any(|file| Path::new(file).exists());
    if !cfg!(target_os = "linux") || (has_driver && has_loader) {
        return Ok(());
    }
    install::apt(
        &["libvulkan1", "mesa-vulkan-drivers"],
        "testing pictures without a graphics card",
    )
}

fn web_checks(verbose: bool) -> Result<Tally> {
    install::npm_ci("web")?;
    let mut npm = process::command("npm");
    process::run(npm.args(["--prefix", "web", "run", "--silent", "check"]))?;
    let tests: Vec<_> = workspace::files_below(&workspace::root().join("web/test"))
        .into_iter()
        .filter(|file| file.to_string_lossy().ends_with(".test.js"))
        .collect();
    if tests.is_empty() {
        return Ok(Tally::one_passed());
    }
    let mut node = process::command("node");
    node.args(["--test", "--test-reporter=tap"]).args(&tests);
    Ok(Tally::one_passed() + Tally::from_node(&mut node, verbose)?)
}

fn site(_verbose: bool) -> Result<Tally> {
    // The last shrinking takes ten minutes of a slow processor: releases and benches have it, a test where it is done.
    web::make(web::at_hand()?)?;
    Ok(Tally::one_passed())
}

fn make_demo(_verbose: bool) -> Result<Tally> {
    let ganosis = demo::build_programs(demo::Profile::Tested)?;
    let dossier = demo::dossier(demo::Profile::Tested, demo::Fineness::shown(2048))?;
    process::run(process::command(&ganosis).arg("check").arg(&dossier))
        .context("the demonstration dossier has findings")?;
    Ok(Tally::one_passed())
}

/// Chromium, a web server, and the packages of tests/e2e.
pub(crate) fn prepare_browser() -> Result<()> {
    let known = [
        "/usr/bin/chromium",
        "/usr/bin/chromium-browser",
        "/usr/bin/google-chrome",
    ];
    if std::env::var_os("CHROMIUM").is_none() && !known.iter().any(|file| Path::new(file).exists())
    {
        install::apt(&["chromium"], "tests in a browser")?;
    }
    let servers = ["/usr/sbin/nginx", "/usr/bin/nginx"];
    if !servers.iter().any(|file| Path::new(file).exists()) {
        install::apt(&["nginx-light"], "tests of published sites")?;
    }
    install::npm_ci("tests/e2e")
}

/// A test file that takes longer hangs; the slowest, which opens every screen, took 551 s on two cores that
/// others kept busy.
const LONGEST_BROWSER_TEST_MS: u32 = 1_200_000;

/// Takes longest by far: begun first, nothing waits for it alone at the end.
const LONGEST: &str = "screens.test.mjs";

fn e2e(verbose: bool) -> Result<Tally> {
    prepare_browser()?;
    let python = install::python()?;
    let ganosis = demo::build_programs(demo::Profile::Tested)?;
    let folder = workspace::root().join("tests/e2e");
    let mut tests: Vec<_> = workspace::files_below(&folder)
        .into_iter()
        .filter(|file| file.to_string_lossy().ends_with(".test.mjs"))
        .collect();
    if tests.is_empty() {
        bail!("no tests in {}", folder.display());
    }
    tests.sort_by_key(|file| !file.ends_with(LONGEST));
    let dossier = demo::dossier(demo::Profile::Tested, demo::Fineness::TRIED)?;
    let archive = release::pack(&ganosis, demo::Profile::Tested, demo::Fineness::TRIED)?;
    let run = |file: &Path| {
        let mut node = process::command("node");
        node.args(["--test", "--test-reporter=tap", "--test-concurrency=1"])
            .arg(format!("--test-timeout={LONGEST_BROWSER_TEST_MS}"))
            .arg(file);
        node.env("GANOSIS", &ganosis)
            .env("GANOSIS_PYTHON", &python)
            .env("GANOSIS_DEMO", &dossier)
            .env("GANOSIS_RELEASE", &archive)
            .env("GANOSIS_VIEWER", workspace::site());
        Tally::from_node(&mut node, verbose)
    };
    // They wait for pictures more than they compute: two at a time fill two processors.
    let files = Mutex::new(tests.iter());
    let next = || files.lock().ok()?.next();
    let work = || -> Result<Tally> {
        let mut total = Tally::default();
        while let Some(file) = next() {
            let start = Instant::now();
            let mut tally = run(file)?;
            let name = file.file_name().unwrap_or_default().to_string_lossy();
            println!("  {name}: {:.0} s", start.elapsed().as_secs_f64());
            if tally.failed > 0 {
                // Pictures drawn in software on a machine that others share may come too late.
                println!("{} failed: tried once more", file.display());
                tally = run(file)?;
                tally.again = 1;
            }
            total = total + tally;
        }
        Ok(total)
    };
    std::thread::scope(|scope| {
        let beside = scope.spawn(work);
        let own = work();
        let beside = beside.join();
        let beside = beside.map_err(|_| anyhow!("the browser tests broke off: see above"))?;
        Ok(own? + beside?)
    })
}
