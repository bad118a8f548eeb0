//! What goes with every answer, and to whom there is none.

use std::net::{Ipv4Addr, Ipv6Addr};

use axum::extract::Request;
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

/// Content Security Policy Level 3 (W3C): nothing but our own files; WebAssembly
/// may be compiled, script text may not be made at run time.
const CONTENT_SECURITY_POLICY: &str = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; \
    style-src 'self'; img-src 'self' blob: data:; media-src 'self' blob:; connect-src 'self'; \
    font-src 'self'; manifest-src 'self'; \
    base-uri 'none'; frame-ancestors 'self'; worker-src 'self' blob:";

/// For a report, which carries its style within and runs nothing.
pub(crate) const OF_REPORTS: &str = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; \
    base-uri 'none'; frame-ancestors 'self'";

/// Headers of every answer. `nosniff` and CORP: Fetch Standard, "X-Content-
/// Type-Options header" and "Cross-Origin-Resource-Policy header".
const HEADERS: [(HeaderName, &str); 4] = [
    (header::CONTENT_SECURITY_POLICY, CONTENT_SECURITY_POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (
        HeaderName::from_static("cross-origin-resource-policy"),
        "same-origin",
    ),
];

/// Refuses foreign names, then adds the headers.
pub(crate) async fn apply(request: Request, next: Next) -> Response {
    let host = request.headers().get(header::HOST).map(HeaderValue::to_str);
    let mut response = match host {
        Some(Ok(host)) if is_own(host) => next.run(request).await,
        // RFC 9110 section 15.5.20.
        Some(_) => text(
            StatusCode::MISDIRECTED_REQUEST,
            "This server answers to numeric addresses and to localhost only. Open it as http://127.0.0.1 with its port.",
        ),
        // RFC 9112 section 3.2.
        None => text(StatusCode::BAD_REQUEST, "The request has no Host header."),
    };
    for (name, value) in HEADERS {
        response
            .headers_mut()
            .entry(name)
            .or_insert(HeaderValue::from_static(value));
    }
    response
}

/// A page of a foreign site reaches this server under the site's own name
/// once that name is made to point here (DNS rebinding). An address in
/// numbers and `localhost` (RFC 6761 section 6.3) cannot be made to.
fn is_own(host: &str) -> bool {
    let name = match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|b| b.is_ascii_digit()) => name,
        _ => host,
    };
    let numeric = match name
        .strip_prefix('[')
        .and_then(|rest| rest.strip_suffix(']'))
    {
        Some(v6) => v6.parse::<Ipv6Addr>().is_ok(),
        None => name.parse::<Ipv4Addr>().is_ok(),
    };
    numeric || name.eq_ignore_ascii_case("localhost")
}

/// A short answer in words.
pub(crate) fn text(status: StatusCode, message: &str) -> Response {
    let kind = [(header::CONTENT_TYPE, "text/plain; charset=utf-8")];
    (status, kind, format!("{message}\n")).into_response()
}

#[cfg(test)]
mod tests {
    use super::is_own;

    #[test]
    fn only_numbers_and_localhost_are_own_names() {
        for own in [
            "127.0.0.1",
            "127.0.0.1:8123",
            "localhost:8123",
            "LOCALHOST",
            "[::1]:8123",
            "192.168.1.7:80",
        ] {
            assert!(is_own(own), "{own}");
        }
        for foreign in [
            "example.org",
            "127.0.0.1.example.org:80",
            "localhost.example.org",
            "",
            "::1",
            "[evil]:80",
            "2130706433",
        ] {
            assert!(!is_own(foreign), "{foreign}");
        }
    }
}
