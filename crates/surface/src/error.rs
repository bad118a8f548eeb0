//! What can go wrong while a surface is read, told with the place and the next step.

/// Why a surface could not be read.
///
/// `at` is a path into the glTF's JSON (`meshes[0].primitives[2]`) or a part of
/// the file ("the header"); `advice` is what the reader can do about it. The
/// name of the file is known to the caller, who puts it in front.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SurfaceError {
    /// The bytes are not a glTF 2.0 file, or end too early.
    #[error("not a readable glTF 2.0 file: {at}: {problem}. {advice}")]
    Container {
        /// Part of the file.
        at: String,
        /// What was found.
        problem: String,
        /// What to do.
        advice: String,
    },
    /// The file needs an extension that is not supported.
    #[error("this file needs {name}, which {what}; {advice}")]
    Extension {
        /// The extension's registered name.
        name: String,
        /// What it does, as a clause after "which".
        what: String,
        /// What to do.
        advice: String,
    },
    /// A file that the glTF refers to is not there.
    #[error(
        "{at}: the file “{uri}” is missing. Put it beside the glTF file, or save the model as one .glb file"
    )]
    Missing {
        /// JSON path of the reference.
        at: String,
        /// The reference, percent-decoded.
        uri: String,
    },
    /// The content contradicts itself or the standard in a way that cannot be mended.
    #[error("{at}: {problem}. {advice}")]
    Invalid {
        /// JSON path.
        at: String,
        /// What was found.
        problem: String,
        /// What to do.
        advice: String,
    },
    /// More than this crate is willing to hold in memory.
    #[error("{at}: {wanted} {what}, and at most {limit} can be opened. Save a reduced mesh")]
    TooLarge {
        /// JSON path.
        at: String,
        /// Of what.
        what: &'static str,
        /// How many the file asks for.
        wanted: u64,
        /// How many are allowed.
        limit: u64,
    },
}

/// Advice where the writing program, not the reader, is at fault.
#[cfg(feature = "gltf")]
pub(crate) const SAVE_AGAIN: &str =
    "The file is damaged or was written wrongly; export it again from the program it came from";

#[cfg(feature = "gltf")]
impl SurfaceError {
    pub(crate) fn invalid(at: impl Into<String>, problem: impl Into<String>) -> Self {
        Self::Invalid {
            at: at.into(),
            problem: problem.into(),
            advice: SAVE_AGAIN.into(),
        }
    }

    pub(crate) fn container(at: impl Into<String>, problem: impl Into<String>) -> Self {
        Self::Container {
            at: at.into(),
            problem: problem.into(),
            advice: "Copy or download the file again; if that does not help, export it again"
                .into(),
        }
    }
}
