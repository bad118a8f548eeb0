//! Why the desk refuses something.

use ganosis_dossier::Finding;
use ganosis_editing::journal::Refused;
use ganosis_editing::regions::RegionError;

/// A sentence for people, and what is wrong with the document that would come of it.
#[derive(Debug, Clone, PartialEq)]
pub struct DeskError {
    /// What is wrong and what to do.
    pub message: String,
    /// Errors of the check, if it is those.
    pub findings: Vec<Finding>,
}

impl std::fmt::Display for DeskError {
    fn fmt(&self, out: &mut std::fmt::Formatter) -> std::fmt::Result {
        out.write_str(&self.message)
    }
}

impl std::error::Error for DeskError {}

impl From<String> for DeskError {
    fn from(message: String) -> Self {
        Self {
            message,
            findings: Vec::new(),
        }
    }
}

impl From<&str> for DeskError {
    fn from(message: &str) -> Self {
        message.to_owned().into()
    }
}

impl From<Refused> for DeskError {
    fn from(refused: Refused) -> Self {
        Self {
            message: refused.to_string(),
            findings: refused.findings().to_vec(),
        }
    }
}

impl From<RegionError> for DeskError {
    fn from(error: RegionError) -> Self {
        error.to_string().into()
    }
}
