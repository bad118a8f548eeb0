//! Pages of a published site: plain files that any web server can give.
//!
//! * [`object_page`] and [`frame_page`]: one dossier, as a page of its own and
//!   for a frame in the page of somebody else.
//! * [`catalogue`]: a page that leads to several.
//! * [`about_object`]: what search engines read (schema.org).
//! * [`sitemap`], [`frame_offer`]: for crawlers, and for pages that ask how to
//!   embed one (oEmbed 1.0).
//!
//! All addresses are relative, so that a site works below any path and from a
//! stick; absolute ones are written where a standard asks for them, and only
//! if the address of the site is given.

mod about;
mod pages;
mod words;

pub use about::about_object;
pub(crate) use about::licence_address;
pub use pages::{catalogue, frame_offer, frame_page, object_page, sitemap};

use ganosis_dossier::Dossier;

use crate::names::titled;

/// Folder of the dossier's files beside its page.
pub const DOSSIER_FOLDER: &str = "dossier/";

/// Name of the report beside the page.
pub const REPORT_NAME: &str = "report.html";

/// Name of the picture that stands for the page elsewhere.
pub const PICTURE_NAME: &str = "preview.png";

/// Size of that picture, px: 1.91 to 1, as places that show links cut it.
pub const PICTURE_PX: [u32; 2] = [1200, 630];

/// One dossier of a site.
#[derive(Debug, Clone)]
pub struct Object<'a> {
    /// What the public may know.
    pub document: &'a Dossier,
    /// Folder of its page from the top of the site: empty, or ending with `/`.
    pub folder: String,
    /// Whether there is a picture.
    pub picture: bool,
    /// Whether there is a report.
    pub report: bool,
}

impl Object<'_> {
    /// The language that the page is in: the first of the dossier.
    #[must_use]
    pub fn language(&self) -> &str {
        self.document.language()
    }

    /// The address of the folder of the page, on a site at `address`.
    fn at(&self, address: &str) -> String {
        format!("{address}{}", self.folder)
    }

    /// From the page to the top of the site.
    fn top(&self) -> String {
        "../".repeat(self.folder.matches('/').count())
    }

    fn title(&self) -> &str {
        titled(&self.document.title, &self.document.id, self.language())
    }

    fn description(&self) -> &str {
        self.document.description.get(self.language())
    }
}
