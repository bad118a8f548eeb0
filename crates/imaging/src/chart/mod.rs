//! A chart in a photograph: finding it, reading its patches, judging the result.

mod assess;
mod find;
mod match_patches;
mod patches;
mod placement;
mod reading;
mod spots;

pub use assess::{Assessment, Evenness, GreyResult, PatchResult, Summary, percentile};
pub use find::find;
pub use match_patches::match_error;
pub use patches::{PatchReading, read_patches};
pub use placement::{Placement, at_corners};
pub use reading::{ChartReading, Finding, FindingKind, Severity, examine};
pub use spots::{Spot, spots};
