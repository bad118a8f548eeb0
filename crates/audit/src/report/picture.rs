//! Rendered pictures with their scale bar and the word for the view.

use super::html::Html;
use super::{Picture, figure, png_address};

/// Share of the width of the picture that the scale bar may take.
const LONGEST_BAR: f64 = 0.3;

/// Height of the strip under the picture, and of its letters, as shares of the
/// longer side: letters of 2 mm where that is 60 mm.
const STRIP: f64 = 0.075;
const LETTERS: f64 = 0.034;

/// Share of the page for the longest side: two beside each other.
const WIDEST_PERCENT: f64 = 48.0;

/// The greatest length of the series 1, 2, 5, 10 ... that is not above `most_mm`.
fn round_length_mm(most_mm: f64) -> f64 {
    let decade = 10_f64.powf(most_mm.log10().floor());
    let steps = [5.0, 2.0, 1.0];
    let step = steps.into_iter().find(|step| step * decade <= most_mm);
    step.unwrap_or(1.0) * decade
}

/// Several at one scale: each takes of the page what its width is of the
/// longest side of all, so that the scale is the same on paper too.
pub(super) fn pictures(pictures: &[Picture]) -> Html {
    let sides = pictures.iter().map(|p| p.width_px.max(p.height_px));
    let longest = f64::from(sides.max().unwrap_or(1).max(1));
    let each: Html = pictures
        .iter()
        .map(|one| {
            let share = WIDEST_PERCENT * f64::from(one.width_px) / longest;
            let style = format!("width:{share:.2}%");
            Html::element("div", &[("style", &style)], picture(one))
        })
        .collect();
    Html::element("div", &[("class", "views")], each)
}

pub(super) fn picture(picture: &Picture) -> Html {
    let (width, height) = (f64::from(picture.width_px), f64::from(picture.height_px));
    if picture.width_px == 0 || picture.height_px == 0 {
        return figure(Html::default(), Html::text(&picture.caption));
    }
    let longer = width.max(height);
    let strip = longer * STRIP;
    let number = |x: f64| format!("{x:.2}");
    let address = png_address(&picture.png);
    let mut inner = Html::element(
        "image",
        &[
            ("href", &address),
            ("width", &number(width)),
            ("height", &number(height)),
        ],
        "",
    );
    let base = height + strip * 0.72;
    let letters = number(longer * LETTERS);
    let text = |x: f64, anchor: &'static str, words: &str| {
        let place = [
            ("x", number(x)),
            ("y", number(base)),
            ("font-size", letters.clone()),
        ];
        let mut attributes: Vec<(&'static str, &str)> =
            place.iter().map(|(k, v)| (*k, v.as_str())).collect();
        attributes.push(("text-anchor", anchor));
        Html::element("text", &attributes, words)
    };
    inner.push(text(0.0, "start", &picture.view));
    let scale = picture
        .mm_per_px
        .filter(|scale| scale.is_finite() && *scale > 0.0);
    if let Some(mm_per_px) = scale {
        let bar_mm = round_length_mm(width * mm_per_px * LONGEST_BAR);
        let bar_px = bar_mm / mm_per_px;
        inner.push(text(
            width - bar_px - longer * 0.015,
            "end",
            &format!("{bar_mm} mm"),
        ));
        let end = strip * 0.14;
        let (left, right) = (width - bar_px, width - end * 0.5);
        let path = format!(
            "M{left:.2} {:.2}v{:.2}M{left:.2} {y:.2}H{right:.2}M{right:.2} {:.2}v{:.2}",
            base - 2.0 * end,
            2.0 * end,
            base - 2.0 * end,
            2.0 * end,
            y = base - end,
        );
        let stroke = number(longer * 0.003);
        inner.push(Html::element(
            "path",
            &[("d", &path), ("class", "bar"), ("stroke-width", &stroke)],
            "",
        ));
    }
    let view_box = format!("0 0 {} {}", number(width), number(height + strip));
    let words = format!("{}. {}", picture.view, picture.caption);
    let drawing = Html::element(
        "svg",
        &[
            ("viewBox", &view_box),
            ("class", "picture"),
            ("role", "img"),
            ("aria-label", &words),
        ],
        inner,
    );
    figure(drawing, Html::text(&picture.caption))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_have_round_lengths() {
        for (most, wanted) in [
            (0.3, 0.2),
            (1.0, 1.0),
            (4.9, 2.0),
            (126.0, 100.0),
            (99.0, 50.0),
        ] {
            assert_eq!(round_length_mm(most), wanted);
        }
    }

    #[test]
    fn the_bar_is_as_long_as_it_says() {
        let shown = Picture {
            width_px: 400,
            height_px: 300,
            mm_per_px: Some(0.5),
            view: "front".to_owned(),
            ..Picture::default()
        };
        let html = picture(&shown).into_string();
        // 30 % of 200 mm is 60 mm: the bar is 50 mm, 100 px, ending at the right edge.
        assert!(html.contains("50 mm") && html.contains("M300.00"), "{html}");
        // In SVG an element that is left open would swallow what follows.
        assert!(html.contains("</image><text"), "{html}");
        let without = Picture {
            mm_per_px: None,
            ..shown
        };
        assert!(!picture(&without).into_string().contains(" mm"));
    }
}
