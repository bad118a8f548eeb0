//! HTML as a type: text becomes markup in one place only.

/// Markup that is safe to put into a page. It is made of escaped text and of
/// tags and attributes that are constants of this program.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Html(String);

impl Html {
    /// Text, escaped for content and for attributes in double quotes (HTML
    /// Living Standard, section 13.3). Control characters that HTML does not
    /// allow become U+FFFD.
    #[must_use]
    pub fn text(text: &str) -> Self {
        let mut out = String::with_capacity(text.len());
        for c in text.chars() {
            match c {
                '&' => out.push_str("&amp;"),
                '<' => out.push_str("&lt;"),
                '>' => out.push_str("&gt;"),
                '"' => out.push_str("&quot;"),
                '\'' => out.push_str("&#39;"),
                '\n' | '\t' => out.push(c),
                c if c.is_control() => out.push('\u{fffd}'),
                c => out.push(c),
            }
        }
        Self(out)
    }

    /// Markup that is a constant of this program.
    #[must_use]
    pub fn constant(markup: &'static str) -> Self {
        Self(markup.to_owned())
    }

    /// An element without attributes.
    #[must_use]
    pub fn tag(name: &'static str, content: impl Into<Self>) -> Self {
        Self::element(name, &[], content)
    }

    /// An element. Values of attributes are escaped.
    #[must_use]
    pub fn element(
        name: &'static str,
        attributes: &[(&'static str, &str)],
        content: impl Into<Self>,
    ) -> Self {
        let mut out = Self::open(name, attributes);
        out.0.push_str(&content.into().0);
        out.0.push_str("</");
        out.0.push_str(name);
        out.0.push('>');
        out
    }

    /// An element without content, such as `img`.
    #[must_use]
    pub fn open(name: &'static str, attributes: &[(&'static str, &str)]) -> Self {
        let mut out = format!("<{name}");
        for (key, value) in attributes {
            out.push(' ');
            out.push_str(key);
            out.push_str("=\"");
            out.push_str(&Self::text(value).0);
            out.push('"');
        }
        out.push('>');
        Self(out)
    }

    /// A block of data within a page, for programs that read it; it is not run.
    /// No text in it can end the block: `<` is written as its JSON escape
    /// (HTML Living Standard, section 4.12.1.3, restrictions for contents of
    /// script elements; RFC 8259 section 7).
    #[must_use]
    pub fn data(media_type: &str, json: &str) -> Self {
        let safe = json
            .replace('<', "\\u003c")
            .replace('\u{2028}', "\\u2028")
            .replace('\u{2029}', "\\u2029");
        let mut out = Self::open("script", &[("type", media_type)]);
        out.0.push_str(&safe);
        out.0.push_str("</script>");
        out
    }

    /// A link, if the address is one of the web; otherwise its text alone.
    #[must_use]
    pub fn link(address: &str) -> Self {
        let web = ["https://", "http://"]
            .iter()
            .any(|scheme| address.starts_with(scheme));
        if web {
            Self::element(
                "a",
                &[("href", address), ("rel", "noopener noreferrer")],
                address,
            )
        } else {
            Self::text(address)
        }
    }

    /// Appends.
    pub fn push(&mut self, more: impl Into<Self>) {
        self.0.push_str(&more.into().0);
    }

    /// True if there is nothing.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The markup.
    #[must_use]
    pub fn into_string(self) -> String {
        self.0
    }
}

impl From<&str> for Html {
    fn from(text: &str) -> Self {
        Self::text(text)
    }
}

impl From<String> for Html {
    fn from(text: String) -> Self {
        Self::text(&text)
    }
}

impl FromIterator<Html> for Html {
    fn from_iter<I: IntoIterator<Item = Html>>(parts: I) -> Self {
        let mut out = Self::default();
        for part in parts {
            out.push(part);
        }
        out
    }
}

/// A table with a head; cells that are empty show a dash.
pub(super) fn table(head: &[&str], rows: impl IntoIterator<Item = Vec<Html>>) -> Html {
    let cells = |name: &'static str, cells: Vec<Html>| -> Html {
        let dash = |cell: Html| {
            if cell.is_empty() {
                Html::text("–")
            } else {
                cell
            }
        };
        Html::tag(
            "tr",
            cells
                .into_iter()
                .map(|c| Html::tag(name, dash(c)))
                .collect::<Html>(),
        )
    };
    let head = cells("th", head.iter().map(|h| Html::text(h)).collect());
    let body: Html = rows.into_iter().map(|row| cells("td", row)).collect();
    let mut out = Html::tag("thead", head);
    out.push(Html::tag("tbody", body));
    Html::tag("table", out)
}

/// A list of terms; pairs without content are left out.
pub(super) fn terms(pairs: impl IntoIterator<Item = (&'static str, Html)>) -> Html {
    let some = pairs.into_iter().filter(|(_, content)| !content.is_empty());
    let list: Html = some
        .flat_map(|(term, content)| [Html::tag("dt", term), Html::tag("dd", content)])
        .collect();
    if list.is_empty() {
        list
    } else {
        Html::tag("dl", list)
    }
}

/// A section with a heading.
pub(super) fn section(id: &'static str, title: &str, content: Html) -> Html {
    let mut inner = Html::tag("h2", title);
    inner.push(content);
    Html::element("section", &[("id", id)], inner)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_stays_text() {
        let text = Html::text("<b a=\"1\" c='2'>&\u{0}").into_string();
        assert_eq!(text, "&lt;b a=&quot;1&quot; c=&#39;2&#39;&gt;&amp;\u{fffd}");
        assert_eq!(
            Html::link("javascript:alert(1)").into_string(),
            "javascript:alert(1)"
        );
        assert!(
            Html::link("https://a.example/\"x")
                .into_string()
                .contains("a.example/&quot;x")
        );
    }
}
