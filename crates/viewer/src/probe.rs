//! The colour of a state at a place: its layers laid over one another as the shader lays them.

use ganosis_colorimetry::rgb::{Encoded, Linear, P3, RgbSpace, Srgb};
use ganosis_colorimetry::{LabD50, band_map, delta_e_2000, in_gamut};
use ganosis_renderer::LayerContent;
use serde_json::{Value, json};

use crate::app::{LayerTexel, StateTexel};
use crate::content::BARE;

/// What a claim says of the colour at a place.
#[derive(Clone, Debug, PartialEq)]
pub struct Claimed {
    /// Id of the claim.
    pub claim: String,
    /// CIELAB (D50, 2°) that it names.
    pub lab_d50: LabD50,
}

/// The colour of a state at a place as a plain object: `{state, lab_d50, lch_d50, srgb, shown_lab_d50,
/// gamut_delta_e_2000, claimed: null | {claim, lab_d50, delta_e_2000}, under_lamp: null | {lab_d50}}`.
/// `srgb` in code values 0..255, cut to the gamut; the ΔE00 of the gamut is between the colour and
/// those codes.
#[must_use]
pub fn report(
    state: &str,
    lab: LabD50,
    claimed: Option<&Claimed>,
    under_lamp: Option<LabD50>,
) -> Value {
    let (code, lch) = (lab.to_srgb().to_u8(), lab.to_lch());
    let shown = LabD50::from(Encoded::<Srgb>::from_u8(code).decode().to_xyz_d50());
    // Within a code value the difference is rounding, not the gamut.
    let outside = !in_gamut::<Srgb>(lab.to_srgb());
    let lost = if outside {
        delta_e_2000(lab, shown)
    } else {
        0.0
    };
    json!({
        "state": state,
        "lab_d50": lab.to_array(),
        "lch_d50": [lch.l, lch.c, lch.h_deg],
        "srgb": code,
        "shown_lab_d50": shown.to_array(),
        "gamut_delta_e_2000": lost,
        "claimed": claimed.map(|c| json!({
            "claim": c.claim,
            "lab_d50": c.lab_d50.to_array(),
            "delta_e_2000": delta_e_2000(lab, c.lab_d50),
        })),
        "under_lamp": under_lamp.map(|lab| json!({"lab_d50": lab.to_array()})),
    })
}

/// CIELAB (D50, 2°) of a state at a place.
#[must_use]
pub fn lab_of(texel: &StateTexel, codes: &[Option<[u8; 4]>]) -> LabD50 {
    let bare = [0, 1, 2].map(|i| f64::from(BARE[i]));
    let factor = texel.factor.map(f64::from);
    let mut light = if texel.layers.is_empty() {
        [factor[0], factor[1], factor[2]]
    } else {
        bare
    };
    for (i, layer) in texel.layers.iter().enumerate() {
        let (mut top, alpha) = linear_of(layer, codes.get(i).copied().flatten());
        let mut cover = alpha * f64::from(layer.paint.weight);
        if i == 0 {
            top = [0, 1, 2].map(|c| top[c] * factor[c]);
            if texel.material {
                cover = 1.0;
            }
        }
        light = [0, 1, 2].map(|c| light[c] + (top[c] - light[c]) * cover);
    }
    LabD50::from(Linear::<Srgb>::from_array(light).to_xyz_d50())
}

/// Linear sRGB, which may leave 0..1, and alpha.
fn linear_of(layer: &LayerTexel, code: Option<[u8; 4]>) -> ([f64; 3], f64) {
    if let (LayerContent::Band(look), Some(value)) = (layer.paint.content, layer.band) {
        let [low, high] = look.ends;
        let span = f64::from(high - low);
        let share = ((f64::from(value) - f64::from(low)) / span).clamp(0.0, 1.0);
        return (band_light(share), 1.0);
    }
    let [r, g, b, a] = code.unwrap_or([255; 4]);
    let alpha = f64::from(a) / 255.0;
    let light = match layer.paint.content {
        LayerContent::DisplayP3 => srgb_light::<P3>([r, g, b]),
        _ => srgb_light::<Srgb>([r, g, b]),
    };
    (light, alpha)
}

fn srgb_light<S: RgbSpace>(code: [u8; 3]) -> [f64; 3] {
    let xyz = Encoded::<S>::from_u8(code).decode().to_xyz_d50();
    Linear::<Srgb>::from(xyz).to_array()
}

/// The band map between its 256 colours, in linear light.
fn band_light(share: f64) -> [f64; 3] {
    let table = band_map();
    let x = share * (table.len() - 1) as f64;
    let low = (x.floor() as usize).min(table.len() - 2);
    let light = |i: usize| Encoded::<Srgb>::from_u8(table[i]).decode().to_array();
    let (a, b, t) = (light(low), light(low + 1), x - low as f64);
    [0, 1, 2].map(|c| a[c] + (b[c] - a[c]) * t)
}

#[cfg(test)]
mod tests {
    use super::*;
    use ganosis_renderer::{LayerPaint, TextureId};

    fn layer(content: LayerContent, weight: f32) -> LayerTexel {
        LayerTexel {
            paint: LayerPaint {
                texture: TextureId(0),
                content,
                weight,
            },
            band: None,
        }
    }

    fn texel(layers: Vec<LayerTexel>) -> StateTexel {
        StateTexel {
            state: "s".into(),
            layers,
            uv: [0.0; 2],
            factor: [1.0; 4],
            material: false,
        }
    }

    /// W3C Compositing and Blending Level 1, section 5.1 (simple alpha compositing), in linear light.
    #[test]
    fn a_layer_lies_over_the_one_below_by_its_alpha() {
        let stack = texel(vec![
            layer(LayerContent::Srgb, 1.0),
            layer(LayerContent::Srgb, 0.5),
        ]);
        let codes = [Some([255, 0, 0, 255]), Some([0, 0, 255, 128])];
        let cover = 0.5 * 128.0 / 255.0;
        let wanted = Linear::<Srgb>::from_array([1.0 - cover, 0.0, cover]).to_xyz_d50();
        let difference = lab_of(&stack, &codes).to_array();
        let wanted = LabD50::from(wanted).to_array();
        for (a, b) in difference.iter().zip(wanted) {
            assert!((a - b).abs() < 1e-9, "{difference:?} is not {wanted:?}");
        }
    }

    /// The primaries of Display P3 lie outside sRGB (SMPTE EG 432-1): red keeps its own CIELAB.
    #[test]
    fn a_wide_red_is_not_clipped_on_its_way() {
        let stack = texel(vec![layer(LayerContent::DisplayP3, 1.0)]);
        let lab = lab_of(&stack, &[Some([255, 0, 0, 255])]);
        let direct = LabD50::from(Encoded::<P3>::from_u8([255, 0, 0]).decode().to_xyz_d50());
        assert!((lab.a - direct.a).abs() < 1e-6 && lab.a > 85.0, "{lab:?}");
    }
}
