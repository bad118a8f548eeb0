//! Builds the modules for the browser (the viewer for WebGPU and for WebGL 2, the porter, the desk and the tripod), puts
//! the page's scripts together and lays out the site.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use anyhow::{Context as _, Result, bail};
use sha2::{Digest as _, Sha256};

use crate::fingerprint::{Fingerprint, stamp_of};
use crate::toolchain::{WASM_TARGET, WasmToolchain};
use crate::{install, process, progress, workspace};

/// How to build for the browser.
#[derive(clap::Args, Clone, Copy, Default)]
pub(crate) struct Options {
    /// Build quickly for trying things out: larger and slower wasm, no wasm-opt
    #[arg(long)]
    pub(crate) fast: bool,
}

/// One module for the browser.
#[derive(Clone, Copy, Debug)]
struct Module {
    /// Name of the files: `<name>.js`, `<name>_bg.wasm`.
    name: &'static str,
    /// What it is called while it is built.
    title: &'static str,
    package: &'static str,
    /// File that Cargo makes.
    made: &'static str,
    /// Features of the package, if any.
    features: &'static str,
    /// What it is made of, besides [`COMMON_INPUTS`].
    inputs: &'static [&'static str],
}

const VIEWER_INPUTS: &[&str] = &["crates/renderer", "crates/viewer", "shaders"];

/// The page loads one of the viewers, by what the browser offers, and the porter, the desk when somebody examines or
/// edits, and the tripod when somebody places a photograph.
const MODULES: [Module; 5] = [
    Module {
        name: "viewer-webgpu",
        title: "viewer for webgpu",
        package: "ganosis-viewer",
        made: "ganosis_viewer.wasm",
        features: "webgpu",
        inputs: VIEWER_INPUTS,
    },
    Module {
        name: "viewer-webgl2",
        title: "viewer for webgl",
        package: "ganosis-viewer",
        made: "ganosis_viewer.wasm",
        features: "webgl",
        inputs: VIEWER_INPUTS,
    },
    Module {
        name: "desk",
        title: "desk",
        package: "ganosis-desk",
        made: "ganosis_desk.wasm",
        features: "",
        inputs: &[
            "crates/audit",
            "crates/desk",
            "crates/editing",
            "crates/exchange",
            "crates/tiles",
        ],
    },
    Module {
        name: "porter",
        title: "porter",
        package: "ganosis-porter",
        made: "ganosis_porter.wasm",
        features: "",
        inputs: &["crates/porter"],
    },
    Module {
        name: "tripod",
        title: "tripod",
        package: "ganosis-tripod",
        made: "ganosis_tripod.wasm",
        features: "",
        inputs: &["crates/imaging", "crates/tripod"],
    },
];

/// What every module is made of.
const COMMON_INPUTS: [&str; 6] = [
    "Cargo.lock",
    "Cargo.toml",
    "crates/colorimetry",
    "crates/surface",
    "crates/dossier",
    "crates/xtask/src/tasks/web.rs",
];

impl Module {
    fn fingerprint(&self, kind: &str) -> Result<Fingerprint> {
        let inputs: Vec<&str> = COMMON_INPUTS.iter().chain(self.inputs).copied().collect();
        Fingerprint::of(&inputs, kind)
    }
}

/// Named one by one: `--all-features` of this version writes compact imports,
/// an encoding that Chromium refuses.
const WASM_OPT_FLAGS: [&str; 8] = [
    "-Oz",
    "--enable-bulk-memory",
    "--enable-bulk-memory-opt",
    "--enable-nontrapping-float-to-int",
    "--enable-sign-ext",
    "--enable-mutable-globals",
    "--enable-reference-types",
    "--enable-multivalue",
];

/// How much is done for size and speed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Build {
    /// As a visitor gets it.
    Full,
    /// The same without the last shrinking, which takes minutes and matters little from a machine to
    /// itself.
    Plain,
    /// Quick to build again after a change, since libraries stay as they are.
    Fast,
}

impl Build {
    fn name(self) -> &'static str {
        match self {
            Self::Full => "full",
            Self::Plain => "plain",
            Self::Fast => "fast",
        }
    }

    fn profile(self) -> &'static str {
        match self {
            Self::Full | Self::Plain => "web",
            Self::Fast => "web-fast",
        }
    }
}

/// Builds whatever has changed and lays out `target/viewer`.
pub(crate) fn run(options: &Options) -> Result<()> {
    make(if options.fast {
        Build::Fast
    } else {
        Build::Full
    })
}

/// Builds whatever has changed and lays out `target/viewer`.
pub(crate) fn make(build_as: Build) -> Result<()> {
    let kind = build_as.name();
    let mut toolchain = None;
    let mut compiled = Vec::new();
    // All are compiled before the first is bound, since the tool for that may be compiling still.
    for module in MODULES {
        let folder = parts(kind, module);
        let print = module.fingerprint(kind)?;
        if print.is_in(&stamp_of(&folder)) && folder.is_dir() {
            progress::unchanged(&format!("The {}", module.title));
            continue;
        }
        let found = match toolchain {
            Some(found) => found,
            None => *toolchain.insert(WasmToolchain::find()?),
        };
        let made = compile_into(found, module, build_as, &folder)?;
        compiled.push((module, folder, made, print));
    }
    if !compiled.is_empty() {
        let tool = install::bind()?;
        for (module, folder, made, print) in compiled {
            bind(&tool, module, build_as, &folder, &made)?;
            print.write(&stamp_of(&folder))?;
        }
    }
    let scripts = workspace::target()
        .join("viewer-parts")
        .join(kind)
        .join("scripts");
    install::npm_ci("web")?;
    progress::step("Putting the page's scripts together", || {
        bundle(build_as, &scripts)
    })?;
    progress::step("Laying out target/viewer", || lay_out(kind, &scripts))
}

/// The page's modules in few files, its pages, and what binds the modules of [`MODULES`], into an empty `folder`.
fn bundle(build_as: Build, folder: &Path) -> Result<()> {
    if folder.exists() {
        std::fs::remove_dir_all(folder)
            .with_context(|| format!("removing {}", folder.display()))?;
    }
    let mut node = process::command("node");
    node.arg("web/tools/bundle.mjs").arg(folder);
    if build_as == Build::Fast {
        node.arg("--readable");
    }
    for module in MODULES {
        let glue = format!("{}.js", module.name);
        node.arg(parts(build_as.name(), module).join(glue));
    }
    process::output(&mut node).map(drop)
}

/// As a visitor gets it where that is built already, and otherwise what is made sooner.
pub(crate) fn at_hand() -> Result<Build> {
    Ok(if is_current(Build::Full)? {
        Build::Full
    } else {
        Build::Plain
    })
}

/// True when everything of this kind is built from the present sources.
fn is_current(build_as: Build) -> Result<bool> {
    let kind = build_as.name();
    for module in MODULES {
        let stamp = stamp_of(&parts(kind, module));
        if !module.fingerprint(kind)?.is_in(&stamp) {
            return Ok(false);
        }
    }
    Ok(true)
}

/// Installs what [`make`] will need, to be done beside the compiling.
pub(crate) fn install_tools(build_as: Build) -> Result<()> {
    if is_current(build_as)? {
        return Ok(());
    }
    if build_as == Build::Full {
        install::wasm_opt()?;
    }
    install::bind().map(drop)
}

fn parts(kind: &str, module: Module) -> PathBuf {
    workspace::target()
        .join("viewer-parts")
        .join(kind)
        .join(module.name)
}

/// Compiles a module and keeps it in `folder`: the next one may be of the same package.
fn compile_into(
    toolchain: WasmToolchain,
    module: Module,
    build_as: Build,
    folder: &Path,
) -> Result<PathBuf> {
    let profile = build_as.profile();
    let title = format!("Compiling the {} (profile {profile})", module.title);
    let made = progress::step(&title, || compile(toolchain, module, profile))?;
    std::fs::create_dir_all(folder).with_context(|| format!("making {}", folder.display()))?;
    let kept = folder.join("compiled.wasm");
    std::fs::copy(&made, &kept).with_context(|| format!("keeping {}", made.display()))?;
    Ok(kept)
}

fn bind(tool: &Path, module: Module, build_as: Build, folder: &Path, made: &Path) -> Result<()> {
    progress::step("Writing the JavaScript side", || {
        let mut command = process::command(tool);
        process::output(command.arg(made).arg(folder).arg(module.name)).map(drop)
    })?;
    if build_as == Build::Full {
        let wasm_opt = install::wasm_opt()?;
        progress::step("Shrinking it (wasm-opt)", || {
            shrink(&wasm_opt, &folder.join(format!("{}_bg.wasm", module.name)))
        })?;
    }
    std::fs::remove_file(made).with_context(|| format!("removing {}", made.display()))
}

fn compile(toolchain: WasmToolchain, module: Module, profile: &str) -> Result<PathBuf> {
    let mut cargo = toolchain.cargo("build");
    cargo.args([
        "--package",
        module.package,
        "--lib",
        "--no-default-features",
    ]);
    if !module.features.is_empty() {
        cargo.args(["--features", module.features]);
    }
    cargo.args(["--profile", profile, "--color", "never"]);
    process::run(&mut cargo)?;
    let made = toolchain
        .target_dir()
        .join(WASM_TARGET)
        .join(profile)
        .join(module.made);
    if !made.exists() {
        bail!("Cargo made no {}", made.display());
    }
    Ok(made)
}

fn shrink(wasm_opt: &Path, module: &Path) -> Result<()> {
    let smaller = module.with_extension("wasm.part");
    // What the first time uncovers the second time takes away. By then the lowest kilobyte may count as
    // unused: it is the end of the stack (`wasm-ld --stack-first`), where no sound pointer leads. Both
    // together are a hundredth of what is sent, and in this order least is.
    for more in [None, Some("--low-memory-unused")] {
        let mut command = process::command(wasm_opt);
        command
            .args(WASM_OPT_FLAGS)
            .args(more)
            .arg("-o")
            .arg(&smaller)
            .arg(module);
        process::output(&mut command)?;
        std::fs::rename(&smaller, module)
            .with_context(|| format!("replacing {}", module.display()))?;
    }
    Ok(())
}

/// Lists what a page runs on, by SHA-256, for tablets that keep all of it.
const FILE_LIST: &str = "files.json";

/// `{"files": {path: SHA-256 in hexadecimal}}` of what a page may ask for; what only makes a package of it
/// is left out.
fn file_list(site: &Path, wanted: &[(PathBuf, PathBuf)]) -> Result<Vec<u8>> {
    let package = workspace::root().join("web/package");
    let mut files = BTreeMap::new();
    for (from, to) in wanted {
        if from.starts_with(&package) || is_declaration(to) {
            continue;
        }
        let path = to.strip_prefix(site).unwrap_or(to);
        let path = path.to_string_lossy().replace('\\', "/");
        let bytes = std::fs::read(to).with_context(|| format!("reading {}", to.display()))?;
        let digest = Sha256::digest(bytes);
        files.insert(
            path,
            digest
                .iter()
                .map(|b| format!("{b:02x}"))
                .collect::<String>(),
        );
    }
    let list = serde_json::json!({ "files": files });
    Ok(format!("{list:#}\n").into_bytes())
}

/// Those of `src` come by [`bundle`].
fn is_script(file: &Path) -> bool {
    file.extension().is_some_and(|ending| ending == "js")
}

fn is_declaration(file: &Path) -> bool {
    file.to_string_lossy().ends_with(".d.ts")
}

fn lay_out(kind: &str, scripts: &Path) -> Result<()> {
    let root = workspace::root();
    let site = workspace::site();
    let web = root.join("web");
    let mut wanted = Vec::new();
    pair_files(scripts, &site, &mut wanted);
    for (from, to) in [
        ("src/public", ""),
        ("styles", "styles"),
        ("messages", "messages"),
        ("package", ""),
    ] {
        pair_files(&web.join(from), &site.join(to), &mut wanted);
    }
    let mark = "tablet.svg";
    wanted.push((web.join(mark), site.join(mark)));
    for module in MODULES {
        let name = format!("{}_bg.wasm", module.name);
        wanted.push((
            parts(kind, module).join(&name),
            site.join("viewer").join(&name),
        ));
    }
    for (from, to) in &wanted {
        copy_if_changed(from, to)?;
    }
    let list = site.join(FILE_LIST);
    write_if_changed(&list, &file_list(&site, &wanted)?)?;
    // What an earlier layout left behind would be served too.
    for file in workspace::files_below(&site) {
        if file != list && !wanted.iter().any(|(_, to)| *to == file) {
            std::fs::remove_file(&file).with_context(|| format!("removing {}", file.display()))?;
        }
    }
    Ok(())
}

fn pair_files(from: &Path, to: &Path, pairs: &mut Vec<(PathBuf, PathBuf)>) {
    for file in workspace::files_below(from) {
        let goes_along = !from.ends_with("src/public") || !is_script(&file);
        if let Ok(below) = file.strip_prefix(from)
            && goes_along
        {
            pairs.push((file.clone(), to.join(below)));
        }
    }
}

fn copy_if_changed(from: &Path, to: &Path) -> Result<()> {
    let bytes = std::fs::read(from).with_context(|| format!("reading {}", from.display()))?;
    write_if_changed(to, &bytes)
}

fn write_if_changed(to: &Path, bytes: &[u8]) -> Result<()> {
    if std::fs::read(to).is_ok_and(|old| old == bytes) {
        return Ok(());
    }
    if let Some(folder) = to.parent() {
        std::fs::create_dir_all(folder).with_context(|| format!("making {}", folder.display()))?;
    }
    let part = to.with_extension("part");
    std::fs::write(&part, bytes).with_context(|| format!("writing {}", part.display()))?;
    std::fs::rename(&part, to).with_context(|| format!("replacing {}", to.display()))
}
