//! Results on the standard output.

use std::io::{self, Write};

use anyhow::Context;

/// The reader of a pipe may leave early; that is no fault.
pub(super) fn printed(result: io::Result<()>) -> anyhow::Result<()> {
    match result.and_then(|()| io::stdout().flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(error).context("the results could not be printed")
        }
        _ => Ok(()),
    }
}
