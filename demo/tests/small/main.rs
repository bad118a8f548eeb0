//! One small dossier of the default seed: its files as accepted, and its palette.

mod expected;
mod palette;

use ganosis_demo::{DEFAULT_SEED, Options};
use std::sync::LazyLock;

/// Made once for all tests here.
static MADE: LazyLock<tempfile::TempDir> = LazyLock::new(|| {
    let options = Options {
        seed: DEFAULT_SEED,
        texture: 256,
        triangles: 40_000,
    };
    let dir = tempfile::tempdir().expect("a temporary folder");
    ganosis_demo::generate(dir.path(), &options, &|_| {}).expect("the demo");
    dir
});
