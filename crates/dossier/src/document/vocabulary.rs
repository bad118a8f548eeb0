//! Words from fixed lists. A word that is not on its list is kept as `Other`,
//! so that one misspelling does not make a whole dossier unreadable.

/// Declares an enum over words with an `Other` for the rest.
macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$variant_doc:meta])* $variant:ident = $word:literal,)+ }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, Hash)]
        pub enum $name {
            $($(#[$variant_doc])* $variant,)+
            /// A word that is not on the list (empty: none was given).
            Other(String),
        }

        impl $name {
            /// Every word on the list, in its order.
            pub const WORDS: &[&str] = &[$($word),+];

            /// The word as written in the file.
            #[must_use]
            pub fn as_str(&self) -> &str {
                match self {
                    $(Self::$variant => $word,)+
                    Self::Other(word) => word,
                }
            }

            /// True if the word is on the list.
            #[must_use]
            pub fn is_known(&self) -> bool {
                !matches!(self, Self::Other(_))
            }

            /// True if no word was given.
            #[must_use]
            pub fn is_unset(&self) -> bool {
                self.as_str().is_empty()
            }
        }

        impl From<&str> for $name {
            fn from(word: &str) -> Self {
                match word {
                    $($word => Self::$variant,)+
                    _ => Self::Other(word.to_owned()),
                }
            }
        }

        impl From<String> for $name {
            fn from(word: String) -> Self {
                Self::from(word.as_str())
            }
        }

        impl Default for $name {
            fn default() -> Self {
                Self::Other(String::new())
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, out: &mut std::fmt::Formatter) -> std::fmt::Result {
                out.write_str(self.as_str())
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.as_str())
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                String::deserialize(from).map(Self::from)
            }
        }

        #[cfg(feature = "schema")]
        impl schemars::JsonSchema for $name {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schemars::json_schema!({"type": "string", "enum": [$($word),+]})
            }
        }
    };
}

words! {
    /// What a state is.
    StateKind {
        /// As it is today.
        AsFound = "as-found",
        /// Only what the analyses support.
        EvidenceBased = "evidence-based",
        /// What scholarship adds.
        Hypothetical = "hypothetical",
    }
}

words! {
    /// What the images of a layer hold.
    LayerKind {
        /// Encoded colour, 8 bit per channel.
        Colour = "colour",
        /// One scalar per texel, 8 or 16 bit.
        Band = "band",
    }
}

words! {
    /// Encoding of a colour layer.
    ColourSpace {
        /// IEC 61966-2-1.
        Srgb = "srgb",
        /// Primaries of SMPTE EG 432-1, white point D65, transfer of sRGB.
        DisplayP3 = "display-p3",
    }
}

words! {
    /// What a claim rests on, strongest first.
    Certainty {
        /// Identified by analysis at this region.
        Measured = "measured",
        /// Remains are seen, not analysed.
        Observed = "observed",
        /// Carried over by symmetry or continuity.
        Continued = "continued",
        /// From parallels: other objects, texts.
        Comparative = "comparative",
        /// Supposed.
        Conjectural = "conjectural",
    }
}

words! {
    /// Finish of a painted surface.
    Finish {
        /// No gloss.
        Matt = "matt",
        /// Soft gloss of a wax.
        Waxed = "waxed",
        /// Full gloss.
        Glossy = "glossy",
        /// Rubbed metal leaf.
        Burnished = "burnished",
    }
}

words! {
    /// Technique of an observation.
    Technique {
        /// X-ray fluorescence.
        Xrf = "xrf",
        /// Photograph through a microscope.
        Micrograph = "micrograph",
        /// Embedded and polished sample.
        CrossSection = "cross-section",
        /// Scanning electron microscope with X-ray microanalysis.
        SemEdx = "sem-edx",
        /// Raman spectroscopy.
        Raman = "raman",
        /// Fourier-transform infrared spectroscopy.
        Ftir = "ftir",
        /// Spectral reflectance of a spot.
        ReflectanceSpectrum = "reflectance-spectrum",
        /// Colour of a spot.
        Colorimetry = "colorimetry",
        /// Seen by eye or in a visible-light photograph.
        Visible = "visible",
        /// Ultraviolet-induced luminescence.
        Uvl = "uvl",
        /// Ultraviolet reflectance.
        Uvr = "uvr",
        /// Infrared reflectance.
        Irr = "irr",
        /// Visible-induced infrared luminescence.
        Vil = "vil",
        /// Grazing light.
        RakingLight = "raking-light",
        /// Archive or publication.
        Document = "document",
        /// Another object.
        Comparison = "comparison",
    }
}

words! {
    /// How two states are set against each other.
    Comparison {
        /// One state alone.
        One = "one",
        /// A divider between two states.
        Swipe = "swipe",
        /// A mixture of two states.
        Blend = "blend",
        /// Colour difference between the two.
        Difference = "difference",
    }
}

words! {
    /// Light on the surface.
    LightMode {
        /// Unlit: the pixel is the colour of the layer.
        AsMeasured = "as-measured",
        /// A light moved over the relief.
        Raking = "raking",
        /// An overcast sky.
        Daylight = "daylight",
    }
}

words! {
    /// What a review says of a claim.
    Verdict {
        /// Holds it to be right.
        Agree = "agree",
        /// Holds it to be wrong.
        Dispute = "dispute",
        /// Wants to know more.
        Ask = "ask",
    }
}

words! {
    /// How a place answers in a band: its luminescence or reflectance.
    Response {
        /// Dark: no more than the surroundings.
        None = "none",
        /// Perceptible.
        Weak = "weak",
        /// Bright.
        Strong = "strong",
    }
}
