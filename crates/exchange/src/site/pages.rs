//! The pages themselves.

use ganosis_audit::report::Html;
use serde_json::json;

use super::words::{direction, words};
use super::{DOSSIER_FOLDER, Object, PICTURE_NAME, PICTURE_PX, REPORT_NAME, about_object};

/// Content Security Policy Level 3 (W3C) for servers that send none: our own
/// files, WebAssembly, nothing made at run time, nothing from elsewhere.
const POLICY: &str = "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; \
    img-src 'self' blob: data:; media-src 'self' blob:; connect-src 'self' blob:; \
    worker-src 'self' blob:; object-src 'none'; base-uri 'none'; form-action 'none'";

/// Longest description of a page, in characters: what places that show links print. A choice of ours.
const LONGEST_DESCRIPTION: usize = 300;

/// Size of the frame that is offered, px: 3 to 2, wide enough for two states. A choice of ours.
const FRAME_PX: [u32; 2] = [960, 640];

/// The page of one dossier. `address` is that of the site and ends with `/`.
#[must_use]
pub fn object_page(object: &Object, address: Option<&str>) -> String {
    let mut head = head(object);
    let description: String = first_characters(object.description());
    if !description.is_empty() {
        head.push(meta("name", "description", &description));
    }
    head.push(property("og:type", "website"));
    head.push(property("og:title", object.title()));
    if !description.is_empty() {
        head.push(property("og:description", &description));
    }
    if let Some(address) = address {
        let here = object.at(address);
        head.push(Html::open("link", &[("rel", "canonical"), ("href", &here)]));
        head.push(property("og:url", &here));
        // The standard asks for whole addresses (oEmbed 1.0, section 4).
        head.push(Html::open(
            "link",
            &[
                ("rel", "alternate"),
                ("type", "application/json+oembed"),
                ("href", &format!("{here}oembed.json")),
                ("title", object.title()),
            ],
        ));
    }
    if object.picture {
        let here = address.map_or(String::new(), |address| object.at(address));
        head.push(property("og:image", &format!("{here}{PICTURE_NAME}")));
        head.push(property("og:image:width", &PICTURE_PX[0].to_string()));
        head.push(property("og:image:height", &PICTURE_PX[1].to_string()));
        head.push(property("og:image:alt", object.title()));
    }
    if object.report {
        head.push(Html::open(
            "link",
            &[("rel", "describedby"), ("href", REPORT_NAME)],
        ));
    }
    let about = about_object(object, address);
    head.push(Html::data("application/ld+json", &about.to_string()));
    page(object, head, "internal/page.js")
}

/// The page of one dossier for a frame; `script` is that of the viewer for
/// frames, from the top of the site.
#[must_use]
pub fn frame_page(object: &Object, script: &str) -> String {
    let mut head = head(object);
    // The page itself is what should be found.
    head.push(meta("name", "robots", "noindex"));
    page(object, head, script)
}

/// How to embed the page of a dossier: an answer of oEmbed 1.0, type `rich`.
#[must_use]
pub fn frame_offer(object: &Object, address: &str) -> serde_json::Value {
    let here = object.at(address);
    let [width, height] = FRAME_PX;
    let frame = Html::element(
        "iframe",
        &[
            ("src", &format!("{here}embed.html")),
            ("width", &width.to_string()),
            ("height", &height.to_string()),
            ("title", object.title()),
            ("loading", "lazy"),
            ("allow", "fullscreen"),
        ],
        "",
    );
    let mut offer = json!({
        "version": "1.0",
        "type": "rich",
        "title": object.title(),
        "html": frame.into_string(),
        "width": width,
        "height": height,
    });
    if object.picture {
        offer["thumbnail_url"] = format!("{here}{PICTURE_NAME}").into();
        offer["thumbnail_width"] = PICTURE_PX[0].into();
        offer["thumbnail_height"] = PICTURE_PX[1].into();
    }
    offer
}

/// A page that leads to several dossiers.
#[must_use]
pub fn catalogue(objects: &[Object], title: Option<&str>, address: Option<&str>) -> String {
    let language = objects.first().map_or("en", Object::language);
    let words = words(language);
    let title = title.unwrap_or(words.catalogue);
    let mut head = common(title);
    head.push(Html::open(
        "link",
        &[("rel", "stylesheet"), ("href", "styles/catalogue.css")],
    ));
    if let Some(address) = address {
        head.push(Html::open(
            "link",
            &[("rel", "canonical"), ("href", address)],
        ));
        head.push(property("og:url", address));
    }
    head.push(property("og:type", "website"));
    head.push(property("og:title", title));
    let list = json!({
        "@context": "https://schema.org",
        "@type": "ItemList",
        "name": title,
        "itemListElement": objects.iter().enumerate().map(|(i, object)| json!({
            "@type": "ListItem",
            "position": i + 1,
            "name": object.title(),
            "url": format!("{}{}", address.unwrap_or(""), page_of(object)),
        })).collect::<Vec<_>>(),
    });
    head.push(Html::data("application/ld+json", &list.to_string()));
    let items: Html = objects.iter().map(|o| card(o, words.report)).collect();
    let mut main = Html::tag("h1", title);
    main.push(Html::element("ul", &[("class", "objects")], items));
    whole(language, head, Html::tag("main", main))
}

/// A directory address does not work from every place that gives files.
fn page_of(object: &Object) -> String {
    format!("{}index.html", object.folder)
}

fn card(object: &Object, report: &'static str) -> Html {
    let document = object.document;
    let language = object.language();
    let mut link = Html::default();
    if object.picture {
        let [width, height] = PICTURE_PX.map(|px| px.to_string());
        link.push(Html::open(
            "img",
            &[
                ("src", &format!("{}{PICTURE_NAME}", object.folder)),
                ("width", &width),
                ("height", &height),
                ("alt", ""),
                ("loading", "lazy"),
            ],
        ));
    }
    // A text that a language lacks comes in another, which may run the other way.
    let said =
        |tag, class, text: &str| Html::element(tag, &[("class", class), ("dir", "auto")], text);
    link.push(said("h2", "title", object.title()));
    let mut card = Html::element("a", &[("href", &page_of(object))], link);
    let record = &document.object;
    let facts: Vec<&str> = [&record.date, &record.material, &record.identifier]
        .into_iter()
        .map(|text| text.get(language))
        .filter(|text| !text.is_empty())
        .collect();
    if !facts.is_empty() {
        card.push(said("p", "facts", &facts.join(" · ")));
    }
    let notice = document.notice.get(language);
    if !notice.is_empty() {
        card.push(said("p", "notice", notice));
    }
    if let Some(rights) = &document.rights {
        let credit = rights.credit.get(language);
        if !credit.is_empty() {
            card.push(said("p", "credit", credit));
        }
    }
    if object.report {
        let address = format!("{}{REPORT_NAME}", object.folder);
        let link = Html::element("a", &[("href", &address)], report);
        card.push(Html::element("p", &[("class", "more")], link));
    }
    Html::element(
        "li",
        &[("lang", language), ("dir", direction(language))],
        card,
    )
}

/// The pages of a site for crawlers (sitemaps.org, protocol 0.9).
#[must_use]
pub fn sitemap(objects: &[Object], address: &str) -> String {
    let mut places: Vec<String> = objects.iter().map(|o| o.folder.clone()).collect();
    if !places.iter().any(String::is_empty) {
        places.insert(0, String::new());
    }
    for object in objects.iter().filter(|object| object.report) {
        places.push(format!("{}{REPORT_NAME}", object.folder));
    }
    let mut out = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<urlset xmlns=\"http://www.sitemaps.org/schemas/sitemap/0.9\">\n",
    );
    for place in places {
        let place = Html::text(&format!("{address}{place}")).into_string();
        out.push_str(&format!("  <url><loc>{place}</loc></url>\n"));
    }
    out.push_str("</urlset>\n");
    out
}

fn common(title: &str) -> Html {
    let mut head = Html::open("meta", &[("charset", "utf-8")]);
    head.push(meta("http-equiv", "Content-Security-Policy", POLICY));
    head.push(meta(
        "name",
        "viewport",
        "width=device-width, initial-scale=1",
    ));
    head.push(Html::tag("title", title));
    head.push(Html::open("link", &[("rel", "icon"), ("href", "data:,")]));
    head
}

fn head(object: &Object) -> Html {
    let mut head = common(object.title());
    let sheet = format!("{}styles/page.css", object.top());
    head.push(Html::open(
        "link",
        &[("rel", "stylesheet"), ("href", &sheet)],
    ));
    head
}

fn page(object: &Object, mut head: Html, script: &str) -> String {
    let script = format!("{}{script}", object.top());
    head.push(Html::element(
        "script",
        &[("type", "module"), ("src", &script)],
        "",
    ));
    let words = words(object.language());
    let mut without = Html::tag("strong", object.title());
    without.push(Html::tag("p", object.description()));
    without.push(Html::tag("p", words.no_script));
    if object.report {
        let link = Html::element("a", &[("href", REPORT_NAME)], words.report);
        without.push(Html::tag("p", link));
    }
    let mut body = Html::element("main", &[("data-src", DOSSIER_FOLDER)], "");
    body.push(Html::tag("noscript", without));
    whole(object.language(), head, body)
}

fn whole(language: &str, head: Html, body: Html) -> String {
    let mut inner = Html::tag("head", head);
    inner.push(Html::tag("body", body));
    let attributes = [("lang", language), ("dir", direction(language))];
    let page = Html::element("html", &attributes, inner);
    format!("<!doctype html>\n{}\n", page.into_string())
}

fn meta(kind: &'static str, name: &str, content: &str) -> Html {
    Html::open("meta", &[(kind, name), ("content", content)])
}

/// The Open Graph protocol (ogp.me) names its fields by `property`.
fn property(name: &str, content: &str) -> Html {
    meta("property", name, content)
}

fn first_characters(text: &str) -> String {
    if text.chars().count() <= LONGEST_DESCRIPTION {
        return text.to_owned();
    }
    let cut: String = text.chars().take(LONGEST_DESCRIPTION - 1).collect();
    format!("{}…", cut.trim_end())
}
