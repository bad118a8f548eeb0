//! Spectra as drawings: axes with units, peaks named.

use std::fmt::Write;

use serde::Deserialize;

use super::html::Html;

/// Size of a drawing in its own units.
const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 240.0;
const LEFT: f64 = 56.0;
const RIGHT: f64 = 12.0;
const TOP: f64 = 22.0;
const BOTTOM: f64 = 40.0;

/// Most points drawn; of more, each group's lowest and highest are kept.
const MOST_POINTS: usize = 2000;

/// Two columns of numbers with their names.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    x_name: String,
    y_name: String,
    points: Vec<(f64, f64)>,
}

impl Series {
    /// Reads the first two columns of a CSV (RFC 4180; `;` and tab serve too).
    /// Lines with `#` in front are comments; rows that are no numbers are left
    /// out. `None` without two points.
    #[must_use]
    pub fn from_csv(bytes: &[u8]) -> Option<Self> {
        let text = String::from_utf8_lossy(bytes);
        let first = text.lines().find(|line| !line.starts_with('#'))?;
        let delimiter = [b'\t', b';', b',']
            .into_iter()
            .find(|d| first.contains(char::from(*d)));
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .delimiter(delimiter.unwrap_or(b','))
            .flexible(true)
            .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
        let head = reader.headers().ok()?.clone();
        let number = |field: Option<&str>| {
            field
                .and_then(|f| f.trim().parse::<f64>().ok())
                .filter(|x| x.is_finite())
        };
        let mut points: Vec<(f64, f64)> = reader
            .records()
            .filter_map(Result::ok)
            .filter_map(|row| Some((number(row.get(0))?, number(row.get(1))?)))
            .collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let name = |at| head.get(at).unwrap_or_default().to_owned();
        let spans = points.first()?.0 < points.last()?.0;
        spans.then(|| Self {
            x_name: name(0),
            y_name: name(1),
            points,
        })
    }

    fn is_energy(&self) -> bool {
        self.x_name.to_lowercase().contains("kev")
    }

    fn thinned(&self) -> Vec<(f64, f64)> {
        if self.points.len() <= MOST_POINTS {
            return self.points.clone();
        }
        let group = self.points.len().div_ceil(MOST_POINTS / 2);
        self.points
            .chunks(group)
            .flat_map(|chunk| {
                let by = |a: &&(f64, f64), b: &&(f64, f64)| a.1.total_cmp(&b.1);
                let (low, high) = (chunk.iter().min_by(by), chunk.iter().max_by(by));
                let mut two: Vec<(f64, f64)> = low.into_iter().chain(high).copied().collect();
                two.sort_by(|a, b| a.0.total_cmp(&b.0));
                two
            })
            .collect()
    }
}

/// `wavelength_nm` as "wavelength (nm)".
fn axis_title(name: &str) -> String {
    for unit in ["nm", "keV", "kev", "cps", "percent"] {
        if let Some(stem) = name.strip_suffix(&format!("_{unit}")) {
            let unit = if unit == "kev" { "keV" } else { unit };
            return format!("{} ({unit})", stem.replace('_', " "));
        }
    }
    name.replace('_', " ")
}

/// Steps of 1, 2 or 5 times a power of ten, about five over the span.
fn ticks(low: f64, high: f64) -> Vec<f64> {
    let rough = (high - low) / 5.0;
    if !(rough.is_finite() && rough > 0.0) {
        return Vec::new();
    }
    let power = 10f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|m| m * power >= rough)
        .unwrap_or(10.0)
        * power;
    let first = (low / step).ceil();
    (0..20)
        .map(|i| (first + f64::from(i)) * step)
        .take_while(|t| *t <= high + step * 1e-9)
        .collect()
}

fn label(x: f64) -> String {
    let text = format!("{x:.4}");
    let short = text.trim_end_matches('0').trim_end_matches('.');
    if short == "-0" {
        "0".to_owned()
    } else {
        short.to_owned()
    }
}

struct Frame {
    x: (f64, f64),
    y: (f64, f64),
}

impl Frame {
    fn px(&self, x: f64) -> f64 {
        LEFT + (x - self.x.0) / (self.x.1 - self.x.0) * (WIDTH - LEFT - RIGHT)
    }
    fn py(&self, y: f64) -> f64 {
        HEIGHT - BOTTOM - (y - self.y.0) / (self.y.1 - self.y.0) * (HEIGHT - TOP - BOTTOM)
    }
}

/// Draws a series. Peaks of the elements named are marked on an energy axis.
#[must_use]
pub fn plot(series: &Series, title: &str, elements: &[String]) -> Html {
    let points = series.thinned();
    let most = points.iter().map(|p| p.1).fold(f64::MIN, f64::max);
    let least = points.iter().map(|p| p.1).fold(0.0, f64::min);
    let frame = Frame {
        x: (
            points.first().map_or(0.0, |p| p.0),
            points.last().map_or(1.0, |p| p.0),
        ),
        y: (
            least,
            if most > least {
                most + (most - least) * 0.08
            } else {
                least + 1.0
            },
        ),
    };
    let mut inner = Html::tag("title", title);
    inner.push(axes(&frame, series));
    let mut path = String::new();
    for (i, (x, y)) in points.iter().enumerate() {
        let letter = if i == 0 { 'M' } else { 'L' };
        let _ = write!(path, "{letter}{:.1} {:.1}", frame.px(*x), frame.py(*y));
    }
    inner.push(Html::element(
        "path",
        &[("d", &path), ("class", "curve")],
        "",
    ));
    if series.is_energy() {
        inner.push(peaks(&frame, &points, elements));
    }
    let view = format!("0 0 {WIDTH} {HEIGHT}");
    Html::element(
        "svg",
        &[("viewBox", &view), ("role", "img"), ("class", "plot")],
        inner,
    )
}

fn line(x1: f64, y1: f64, x2: f64, y2: f64, class: &'static str) -> Html {
    let d = format!("M{x1:.1} {y1:.1}L{x2:.1} {y2:.1}");
    Html::element("path", &[("d", &d), ("class", class)], "")
}

fn words(x: f64, y: f64, anchor: &'static str, text: &str) -> Html {
    let (x, y) = (format!("{x:.1}"), format!("{y:.1}"));
    Html::element(
        "text",
        &[("x", &x), ("y", &y), ("text-anchor", anchor)],
        text,
    )
}

fn axes(frame: &Frame, series: &Series) -> Html {
    let (bottom, right) = (HEIGHT - BOTTOM, WIDTH - RIGHT);
    let mut out = line(LEFT, bottom, right, bottom, "axis");
    out.push(line(LEFT, TOP, LEFT, bottom, "axis"));
    for x in ticks(frame.x.0, frame.x.1) {
        out.push(line(frame.px(x), bottom, frame.px(x), bottom + 4.0, "axis"));
        out.push(words(frame.px(x), bottom + 16.0, "middle", &label(x)));
    }
    for y in ticks(frame.y.0, frame.y.1) {
        out.push(line(LEFT - 4.0, frame.py(y), LEFT, frame.py(y), "axis"));
        out.push(words(LEFT - 7.0, frame.py(y) + 4.0, "end", &label(y)));
    }
    out.push(words(
        (LEFT + right) / 2.0,
        HEIGHT - 6.0,
        "middle",
        &axis_title(&series.x_name),
    ));
    out.push(words(6.0, 13.0, "start", &axis_title(&series.y_name)));
    out
}

#[derive(Deserialize)]
struct Line {
    element: String,
    line: String,
    energy_kev: f64,
}

/// Names at the lines of the elements, above the curve; those that would
/// overlap stand one row lower.
fn peaks(frame: &Frame, points: &[(f64, f64)], elements: &[String]) -> Html {
    let text = include_str!("../../data/xray_lines.csv");
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(text.as_bytes());
    let mut lines: Vec<Line> = reader
        .deserialize()
        .filter_map(Result::ok)
        .filter(|line: &Line| elements.contains(&line.element))
        .filter(|line| line.energy_kev >= frame.x.0 && line.energy_kev <= frame.x.1)
        .collect();
    lines.sort_by(|a, b| a.energy_kev.total_cmp(&b.energy_kev));
    let mut out = Html::default();
    let (mut last, mut row) = (f64::MIN, 0);
    for found in lines {
        let x = frame.px(found.energy_kev);
        row = if x - last < 34.0 { (row + 1) % 3 } else { 0 };
        last = x;
        let near = points.partition_point(|p| p.0 < found.energy_kev);
        let top = points.get(near).map_or(HEIGHT - BOTTOM, |p| frame.py(p.1));
        let y = TOP + 2.0 + 11.0 * f64::from(row);
        out.push(line(x, y + 2.0, x, (top - 2.0).max(y + 2.0), "peak"));
        let name = format!("{} {}", found.element, found.line.replace('a', "α"));
        out.push(words(x, y, "middle", &name));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_csv_is_drawn_with_its_units_and_peaks() {
        let csv = b"# spot\nenergy_kev,counts\n1,2\n9.989,400\n20,3\nx,y\n";
        let series = Series::from_csv(csv).unwrap();
        assert_eq!(series.points.len(), 3);
        let svg = plot(&series, "XRF", &["Hg".to_owned()]).into_string();
        for part in ["energy (keV)", "counts", "Hg Lα", "<title>XRF</title>"] {
            assert!(svg.contains(part), "{part}: {svg}");
        }
    }

    #[test]
    fn what_is_no_series_is_not_drawn() {
        for bad in [
            &b""[..],
            b"a,b\n",
            b"a,b\n1,2\n",
            b"a,b\n1,1\n1,2\n",
            b"\xff\xfe,\n",
        ] {
            assert_eq!(Series::from_csv(bad), None);
        }
    }

    #[test]
    fn ticks_are_round_numbers() {
        assert_eq!(ticks(380.0, 780.0), [400.0, 500.0, 600.0, 700.0]);
        assert_eq!(
            ticks(0.0, 1.0),
            [0.0, 0.2, 0.4, 0.6000000000000001, 0.8, 1.0]
        );
        assert!(ticks(1.0, 1.0).is_empty() && ticks(f64::NAN, 1.0).is_empty());
    }
}
