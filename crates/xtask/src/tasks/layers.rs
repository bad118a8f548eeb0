//! Which crate may know which: the one table, checked by `tidy` and printed by `tidy --table`.

/// What one crate may depend on.
pub(crate) struct Layer {
    pub(crate) package: &'static str,
    pub(crate) folder: &'static str,
    /// Crates of this workspace it may use (tests included only where `dev` says).
    pub(crate) may_use: &'static [&'static str],
    /// Further crates of this workspace its tests may use.
    pub(crate) dev: &'static [&'static str],
    /// Outside crates it must not name.
    pub(crate) forbidden: &'static [&'static str],
}

/// No drawing, no browser, no async runtime: plain data and arithmetic.
const PURE: &[&str] = &[
    "wgpu",
    "web-sys",
    "js-sys",
    "wasm-bindgen",
    "tokio",
    "anyhow",
    "clap",
    "axum",
];
/// The renderer and the viewer run in the browser: nothing that needs an operating system.
const BROWSER: &[&str] = &["tokio", "anyhow", "clap", "axum", "zip", "rayon"];
/// Programs on the desk: no browser bindings.
const DESK: &[&str] = &["web-sys", "js-sys", "wasm-bindgen"];

const COLORIMETRY: &str = "ganosis-colorimetry";
const SURFACE: &str = "ganosis-surface";
const TILES: &str = "ganosis-tiles";
const DOSSIER: &str = "ganosis-dossier";
const PORTER: &str = "ganosis-porter";
const RENDERER: &str = "ganosis-renderer";
const IMAGING: &str = "ganosis-imaging";
const AUDIT: &str = "ganosis-audit";
const EDITING: &str = "ganosis-editing";
const EXCHANGE: &str = "ganosis-exchange";
const VIEWER: &str = "ganosis-viewer";
const WORKTABLE: &str = "ganosis-desk";
const TRIPOD: &str = "ganosis-tripod";
const SERVER: &str = "ganosis-server";
const TESTKIT: &str = "ganosis-testkit";

/// From the bottom up.
pub(crate) const LAYERS: [Layer; 20] = [
    Layer {
        package: COLORIMETRY,
        folder: "crates/colorimetry",
        may_use: &[],
        dev: &[TESTKIT],
        forbidden: PURE,
    },
    Layer {
        package: SURFACE,
        folder: "crates/surface",
        may_use: &[],
        dev: &[TESTKIT],
        forbidden: PURE,
    },
    Layer {
        package: TILES,
        folder: "crates/tiles",
        may_use: &[],
        dev: &[TESTKIT],
        forbidden: PURE,
    },
    Layer {
        package: DOSSIER,
        folder: "crates/dossier",
        may_use: &[],
        dev: &[TESTKIT],
        forbidden: PURE,
    },
    Layer {
        package: PORTER,
        folder: "crates/porter",
        may_use: &[SURFACE],
        dev: &[TESTKIT],
        forbidden: BROWSER,
    },
    Layer {
        package: RENDERER,
        folder: "crates/renderer",
        may_use: &[SURFACE, TILES, COLORIMETRY],
        dev: &[TESTKIT],
        forbidden: BROWSER,
    },
    Layer {
        package: IMAGING,
        folder: "crates/imaging",
        may_use: &[SURFACE, COLORIMETRY],
        dev: &[TESTKIT],
        forbidden: PURE,
    },
    Layer {
        package: AUDIT,
        folder: "crates/audit",
        may_use: &[DOSSIER, SURFACE, COLORIMETRY],
        dev: &[TESTKIT],
        forbidden: PURE,
    },
    Layer {
        package: EXCHANGE,
        folder: "crates/exchange",
        may_use: &[DOSSIER, SURFACE, TILES, COLORIMETRY, AUDIT],
        dev: &[TESTKIT],
        forbidden: PURE,
    },
    Layer {
        package: EDITING,
        folder: "crates/editing",
        may_use: &[DOSSIER, SURFACE, COLORIMETRY],
        dev: &[TESTKIT],
        forbidden: PURE,
    },
    Layer {
        package: SERVER,
        folder: "crates/server",
        may_use: &[DOSSIER],
        dev: &[TESTKIT],
        forbidden: &["wgpu", "web-sys", "js-sys", "wasm-bindgen", "anyhow"],
    },
    Layer {
        package: VIEWER,
        folder: "crates/viewer",
        may_use: &[PORTER, RENDERER, DOSSIER, SURFACE, TILES, COLORIMETRY],
        dev: &[TESTKIT],
        forbidden: BROWSER,
    },
    Layer {
        package: WORKTABLE,
        folder: "crates/desk",
        may_use: &[EDITING, AUDIT, EXCHANGE, DOSSIER, SURFACE, COLORIMETRY],
        dev: &[TESTKIT],
        forbidden: &["wgpu", "tokio", "anyhow", "clap", "axum", "zip", "rayon"],
    },
    Layer {
        package: TRIPOD,
        folder: "crates/tripod",
        may_use: &[IMAGING, SURFACE, COLORIMETRY],
        dev: &[TESTKIT],
        forbidden: &["wgpu", "tokio", "anyhow", "clap", "axum", "zip", "rayon"],
    },
    Layer {
        package: "ganosis-cli",
        folder: "crates/cli",
        may_use: &[
            SERVER,
            VIEWER,
            RENDERER,
            DOSSIER,
            SURFACE,
            TILES,
            COLORIMETRY,
            IMAGING,
            AUDIT,
            EXCHANGE,
        ],
        dev: &[TESTKIT, "ganosis-demo"],
        forbidden: DESK,
    },
    Layer {
        package: "ganosis-bind",
        folder: "crates/bind",
        may_use: &[],
        dev: &[],
        forbidden: DESK,
    },
    Layer {
        package: TESTKIT,
        folder: "crates/testkit",
        may_use: &[COLORIMETRY],
        dev: &[],
        forbidden: DESK,
    },
    Layer {
        package: "xtask",
        folder: "crates/xtask",
        may_use: &[],
        dev: &[],
        forbidden: &["wgpu", "tokio", "image"],
    },
    Layer {
        package: "ganosis-demo",
        folder: "demo",
        may_use: &[DOSSIER, SURFACE, COLORIMETRY],
        dev: &[TESTKIT, SURFACE, DOSSIER],
        forbidden: DESK,
    },
    Layer {
        package: "ganosis-tests",
        folder: "tests",
        may_use: &[
            AUDIT,
            DOSSIER,
            SURFACE,
            COLORIMETRY,
            RENDERER,
            SERVER,
            TESTKIT,
            "ganosis-demo",
        ],
        dev: &[
            DOSSIER,
            SURFACE,
            COLORIMETRY,
            RENDERER,
            SERVER,
            TESTKIT,
            "ganosis-demo",
        ],
        forbidden: &[],
    },
];

/// The table as Markdown, as it stands in DEVELOPERS.md.
pub(crate) fn markdown() -> String {
    let mut text =
        String::from("| crate | may use of ours | must not name |\n| --- | --- | --- |\n");
    for layer in &LAYERS {
        let list = |names: &[&str]| {
            if names.is_empty() {
                "nothing".to_owned()
            } else {
                names.join(", ")
            }
        };
        text.push_str(&format!(
            "| `{}` | {} | {} |\n",
            layer.folder,
            list(layer.may_use),
            list(layer.forbidden)
        ));
    }
    text
}
