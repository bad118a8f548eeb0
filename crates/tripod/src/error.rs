//! Why something was not done, in a sentence for people.

use ganosis_imaging::ImagingError;

/// A refusal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TripodError {
    /// What is wrong, where, and what to do.
    pub message: String,
}

impl From<String> for TripodError {
    fn from(message: String) -> Self {
        Self { message }
    }
}

impl From<&str> for TripodError {
    fn from(message: &str) -> Self {
        message.to_owned().into()
    }
}

impl From<ImagingError> for TripodError {
    fn from(error: ImagingError) -> Self {
        error.to_string().into()
    }
}

impl From<serde_json::Error> for TripodError {
    fn from(error: serde_json::Error) -> Self {
        error.to_string().into()
    }
}
