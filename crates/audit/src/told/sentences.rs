//! Every sentence of the audit. Pages have each of them in their languages, and a test holds them together.

use super::Sentence;

macro_rules! sentences {
    ($($name:ident $key:literal $english:literal $(one $one:literal)?;)*) => {
        $(pub(crate) const $name: Sentence = Sentence {
            key: $key,
            english: $english,
            one: one!($($one)?),
        };)*

        /// All of them.
        pub const ALL: &[Sentence] = &[$($name),*];
    };
}

macro_rules! one {
    () => {
        None
    };
    ($one:literal) => {
        Some($one)
    };
}

sentences! {
    UNCOVERED_SURFACE "uncovered-surface" "in the state {state}, {area} cm² of coloured surface ({share} %) are covered by no claim: {most}";
    UNCOVERED_IN_REGION "uncovered-surface.region" "{area} cm² in the region {region}";
    UNCOVERED_IN_NUMBER "uncovered-surface.number" "{area} cm² in the region numbered {number}, which is not in the dossier";
    UNCOVERED_OUTSIDE "uncovered-surface.outside" "{area} cm² outside every region";
    PART_WITHOUT_CLAIM "part-without-claim" "the state {state} shows the part {part}, which no claim covers";
    PART_WITHOUT_CLAIM_AREA "part-without-claim.area" "the state {state} shows the part {part} ({area} cm²), which no claim covers";
    CLAIM_WITHOUT_EVIDENCE "claim-without-evidence" "the claim \"{claim}\" is said to be {certainty} and needs {needs}; it cites {cites}";
    CLAIM_WITHOUT_ANY_EVIDENCE "claim-without-evidence.none" "the claim \"{claim}\" is said to be {certainty} and needs {needs}; it cites none";
    NEEDS_ANALYSIS "claim-without-evidence.analysis" "an analysis (XRF, SEM-EDX, Raman, FTIR or a reflectance spectrum)";
    NEEDS_OBSERVATION "claim-without-evidence.observation" "an observation of the object";
    NEEDS_OTHER_PLACE "claim-without-evidence.elsewhere" "an observation of the place it is carried over from";
    NEEDS_COMPARISON "claim-without-evidence.comparison" "a comparison, a document or another observation";
    CLAIM_WITHOUT_ARGUMENT "claim-without-argument" "the claim \"{claim}\" is {certainty} and gives no argument";
    CLAIM_WITHOUT_COLOUR "claim-without-colour" "the claim \"{claim}\" names no paint, and no argument says that there was none";
    CLAIM_UNSIGNED "claim-unsigned" "nobody signs the claim \"{claim}\"";
    CLAIM_BEFORE_EVIDENCE "claim-before-evidence" "the claim \"{claim}\" of {date} cites {evidence} of {later}";
    ANALYSIS_OUTSIDE "analysis-outside-region" "the claim \"{claim}\" is said to be measured, but {analyses} lie outside its region {region}"
        one "the claim \"{claim}\" is said to be measured, but {analyses} lies outside its region {region}";
    ANALYSIS_OUTSIDE_BY "analysis-outside-region.distance" "the claim \"{claim}\" is said to be measured, but {analyses} lie outside its region {region}, {distance} mm away at the nearest"
        one "the claim \"{claim}\" is said to be measured, but {analyses} lies outside its region {region}, {distance} mm away at the nearest";
    ANCHOR_OUTSIDE "anchor-outside-region" "{evidence} names the region {region}, but its place is in the region {other}";
    ANCHOR_OUTSIDE_BY "anchor-outside-region.distance" "{evidence} names the region {region}, but its place is in the region {other}, {distance} mm away";
    ANCHOR_NOWHERE "anchor-outside-region.none" "{evidence} names the region {region}, but its place is in no region";
    ANCHOR_NOWHERE_BY "anchor-outside-region.none-distance" "{evidence} names the region {region}, but its place is in no region, {distance} mm away";
    ANALYSIS_WITHOUT_PLACE "analysis-without-place" "where {evidence} was analysed is not recorded";
    PAINTED_COLOUR "painted-colour" "in the state {state} the region {region} is painted ΔE00 {median} from the claimed colour at the median (limit {median_limit}) and {most} at the 95th percentile (limit {most_limit})";
    CLAIMS_CONFLICT "claims-conflict" "in the state {state} the claims \"{claim}\" ({paints}) and \"{other}\" ({other_paints}) give the region \"{place}\" different paints";
    CLAIMS_CONFLICT_ON_PART "claims-conflict.part" "in the state {state} the claims \"{claim}\" ({paints}) and \"{other}\" ({other_paints}) give the part \"{place}\" different paints";
    ELEMENTS_CONTRADICT "elements-contradict" "the claim \"{claim}\" says {pigment}, which is told by {elements}; {found}";
    ELEMENTS_FOUND "elements-contradict.found" "{evidence} found {elements}";
    IDENTIFIED_OTHERWISE "identified-otherwise" "the claim \"{claim}\" says \"{pigment}\", but the analyses it cites identify {others}";
    BAND_MISSING "band-contradicts" "the claim \"{claim}\" names a paint of strong visible-induced luminescence; {evidence} shows none";
    BAND_THERE "band-contradicts.strong" "the claim \"{claim}\" names a paint without visible-induced luminescence; {evidence} shows a strong one";
    PIGMENT_NEVER_CHECKED "pigment-never-checked" "{pigment} is claimed, and no analysis cited for it looked for its elements";
    LATER_ELEMENT "later-element" "{evidence} found {element}; paints with it are known from about {year}, and the object is not later than {latest}";
    PIGMENT_NOT_YET "pigment-not-yet" "{pigment} is claimed and known from about {year} (the palette); the object is not later than {latest}";
    PIGMENT_NOT_YET_BY_TABLE "pigment-not-yet.table" "{pigment} is claimed and known from about {year} (the table of pigments, from memory); the object is not later than {latest}";
    PIGMENT_NO_LONGER "pigment-no-longer" "{pigment} is claimed and known until about {year} (the palette); the object is not earlier than {earliest}";
    PIGMENT_NO_LONGER_BY_TABLE "pigment-no-longer.table" "{pigment} is claimed and known until about {year} (the table of pigments, from memory); the object is not earlier than {earliest}";
    TOO_UNCERTAIN "too-uncertain" "the claim \"{claim}\" is only {certainty}, and the state {state} is evidence-based";
    BASED_ON_HYPOTHESIS "based-on-hypothesis" "the evidence-based state {state} builds on {base}, which is hypothetical";
    STATE_CIRCLE "state-circle" "the states {states} are based on one another in a circle"
        one "the state {states} is based on itself";
    STATE_UNSIGNED "state-unsigned" "nobody proposes the state {state}";
    DISPUTED "disputed" "the claim \"{claim}\" is disputed by {by} and nobody has answered";
    DISPUTED_BECAUSE "disputed.reason" "the claim \"{claim}\" is disputed by {by} and nobody has answered: {reason}";
    ASKED "asked" "{by} asks about the claim \"{claim}\" and nobody has answered";
    ASKED_BECAUSE "asked.reason" "{by} asks about the claim \"{claim}\" and nobody has answered: {reason}";
    REVIEW_WITHOUT_REASON "review-without-reason" "{by} disputes the claim \"{claim}\" and does not say why";
    FEW_READINGS "few-readings" "the colour of {pigment} rests on {readings} of at least {least} readings";
    UNTOLD_READINGS "few-readings.untold" "how many readings the colour of {pigment} rests on is not said";
    PIGMENT_WITHOUT_COLOUR "pigment-without-colour" "{pigment} is claimed, but its colour was not measured";
    CAMERA_NOT_CHARACTERISED "camera-not-characterised" "the layer {layer} shows the object as found, and its origin names no calibration of the camera";
    CAMERA_RESIDUAL "camera-residual" "the camera of the layer {layer} was characterised to a mean of ΔE00 {mean}; the limit is {limit}";
    LAYER_WITHOUT_ORIGIN "layer-without-origin" "the layer {layer} does not say how it was made";
    UNUSED_EVIDENCE "unused-evidence" "no claim and no pin cites {evidence}";
    EVIDENCE_UNSIGNED "evidence-unsigned" "nobody signs {evidence}";
    EVIDENCE_UNDATED "evidence-undated" "{evidence} has no date";
    EVIDENCE_WITHOUT_INSTRUMENT "evidence-without-instrument" "{evidence} names no instrument";
    UNKNOWN_SET_ASIDE "unknown-rule-set-aside" "the finding \"{rule}\" about \"{about}\" is set aside, but there is no such finding";

    SOMEBODY "somebody" "somebody";
    MEASURED "certainty.measured" "measured";
    OBSERVED "certainty.observed" "observed";
    CONTINUED "certainty.continued" "continued";
    COMPARATIVE "certainty.comparative" "comparative";
    CONJECTURAL "certainty.conjectural" "conjectural";

    AREA "figure.area" "area";
    SHARE "figure.share" "share";
    DISTANCE "figure.distance" "distance";
    MEDIAN "figure.median" "median";
    PERCENTILE_95 "figure.percentile-95" "95th percentile";
    MEAN "figure.mean" "mean";

    NO_MESH "not-examined.mesh" "no mesh was given: areas, colours on the surface and places were not examined";
    NO_REGION_MAP "not-examined.region-map" "no region map was given for the sheet \"{sheet}\"";
    NO_MATERIAL "not-examined.material" "the sheet \"{sheet}\" was not examined: the mesh has no material \"{material}\"";
    NO_COLOURS "not-examined.colours" "the image of the layer \"{layer}\" for the sheet \"{sheet}\" could not be used: its colours were not examined";
}
