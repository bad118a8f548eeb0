//! The audit, as a list to work through.

use super::html::{Html, terms};
use super::{Report, place};
use crate::Finding;

impl Report<'_> {
    pub(super) fn findings(&self) -> Html {
        let mut out = Html::tag("p", self.tally());
        out.push(
            self.audit
                .findings
                .iter()
                .map(|f| finding(f, Html::default()))
                .collect::<Html>(),
        );
        if !self.audit.set_aside.is_empty() {
            out.push(Html::tag("h3", "Set aside"));
        }
        for standing in &self.audit.set_aside {
            let aside = &standing.set_aside;
            let who = format!(
                "{} {}",
                self.person(&aside.by),
                aside.date.as_deref().unwrap_or_default()
            );
            let reason = terms([
                ("Set aside by", Html::from(who)),
                ("Because", Html::text(aside.reason.get(self.language))),
            ]);
            out.push(finding(&standing.finding, reason));
        }
        out
    }
}

fn finding(finding: &Finding, more: Html) -> Html {
    let severity = finding.severity.as_str();
    let mut head = Html::element("span", &[("class", "grade")], severity);
    head.push(" ");
    head.push(Html::element("span", &[("class", "id")], finding.rule));
    let mut inner = Html::tag("p", head);
    let mut sentence = finding.told.message.clone();
    if let Some(first) = sentence.get(..1) {
        let upper = first.to_uppercase();
        sentence.replace_range(..1, &upper);
    }
    inner.push(Html::tag("p", format!("{sentence}.")));
    inner.push(terms([
        ("What would settle it", Html::text(finding.settles)),
        ("About", Html::text(&finding.about)),
        (
            "Place",
            Html::from(finding.place.anchor.as_ref().map(place).unwrap_or_default()),
        ),
        ("Demanded by", Html::text(finding.source)),
    ]));
    inner.push(more);
    Html::element("div", &[("class", &format!("finding {severity}"))], inner)
}
