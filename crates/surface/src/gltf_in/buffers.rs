//! Bytes of buffers and buffer views, packed ones unpacked.

use std::borrow::Cow;
use std::cell::RefCell;
use std::collections::HashMap;
use std::ops::{Deref, Range};
use std::rc::Rc;

use base64::Engine as _;
use base64::alphabet::STANDARD;
use base64::engine::{DecodePaddingMode, GeneralPurpose, GeneralPurposeConfig};
use meshoptimizer_rs::{Error as PackError, Workspace, codec};
use serde_json::Value;

use super::document::Document;
use crate::SurfaceError;

/// At most this many bytes from one packed view. Choice of this project.
const MOST_UNPACKED: usize = 1 << 30;

/// Both names of the same packing; the second adds a newer vertex codec.
const PACKINGS: [&str; 2] = ["EXT_meshopt_compression", "KHR_meshopt_compression"];

type Shared<'a> = Rc<Cow<'a, [u8]>>;

/// A piece of a buffer.
pub(super) struct View<'a> {
    data: Shared<'a>,
    range: Range<usize>,
    pub(super) stride: Option<usize>,
}

impl Deref for View<'_> {
    type Target = [u8];

    fn deref(&self) -> &[u8] {
        self.data.get(self.range.clone()).unwrap_or_default()
    }
}

pub(super) struct Buffers<'a> {
    document: &'a Document,
    bin: Option<&'a [u8]>,
    fetch: &'a dyn Fn(&str) -> Option<Vec<u8>>,
    loaded: RefCell<HashMap<usize, Shared<'a>>>,
    unpacked: RefCell<HashMap<usize, Shared<'a>>>,
}

/// External buffer files, each once.
pub(super) fn needed(document: &Document) -> Result<Vec<String>, SurfaceError> {
    let mut files = Vec::new();
    for (i, buffer) in document.root.buffers.iter().enumerate() {
        let Some(uri) = buffer.uri.as_deref().filter(|u| !is_data(u)) else {
            continue;
        };
        let path = local_path(uri, &format!("buffers[{i}].uri"))?;
        if !files.contains(&path) {
            files.push(path);
        }
    }
    Ok(files)
}

pub(super) fn is_data(uri: &str) -> bool {
    uri.get(..5)
        .is_some_and(|p| p.eq_ignore_ascii_case("data:"))
}

/// A relative reference as a path; absolute ones are refused, since a model must
/// not reach beyond its own folder.
pub(super) fn local_path(uri: &str, at: &str) -> Result<String, SurfaceError> {
    let path = percent_decoded(uri);
    let climbs = path.split(['/', '\\']).any(|part| part == "..");
    if path.is_empty() || path.starts_with(['/', '\\']) || path.contains(':') || climbs {
        return Err(SurfaceError::Invalid {
            at: at.into(),
            problem: format!("“{path}” is not a file beside this one"),
            advice: "Put the file into the same folder, or save the model as one .glb file".into(),
        });
    }
    Ok(path.strip_prefix("./").unwrap_or(&path).to_owned())
}

fn percent_decoded(uri: &str) -> String {
    let bytes = uri.as_bytes();
    let mut out = Vec::with_capacity(bytes.len());
    let mut i = 0;
    while i < bytes.len() {
        let pair = bytes
            .get(i + 1..i + 3)
            .filter(|p| p.iter().all(u8::is_ascii_hexdigit));
        let code = pair
            .filter(|_| bytes[i] == b'%')
            .and_then(|p| std::str::from_utf8(p).ok());
        match code.and_then(|c| u8::from_str_radix(c, 16).ok()) {
            Some(byte) => {
                out.push(byte);
                i += 3;
            }
            None => {
                out.push(bytes[i]);
                i += 1;
            }
        }
    }
    String::from_utf8(out).unwrap_or_else(|_| uri.to_owned())
}

/// Media type and content of a base64 data URI (RFC 2397).
pub(super) fn data_uri(uri: &str, at: &str) -> Result<(String, Vec<u8>), SurfaceError> {
    let fail = |problem: &str| SurfaceError::invalid(at, format!("the data URI {problem}"));
    let (head, body) = uri
        .get(5..)
        .and_then(|u| u.split_once(','))
        .ok_or_else(|| fail("has no comma"))?;
    let mime = head
        .strip_suffix(";base64")
        .ok_or_else(|| fail("is not base64"))?;
    // Some writers leave the padding out.
    let engine = GeneralPurpose::new(
        &STANDARD,
        GeneralPurposeConfig::new().with_decode_padding_mode(DecodePaddingMode::Indifferent),
    );
    let bytes = engine
        .decode(body.trim_end())
        .map_err(|e| fail(&format!("is broken: {e}")))?;
    Ok((mime.split(';').next().unwrap_or_default().to_owned(), bytes))
}

impl<'a> Buffers<'a> {
    pub(super) fn new(
        document: &'a Document,
        bin: Option<&'a [u8]>,
        fetch: &'a dyn Fn(&str) -> Option<Vec<u8>>,
    ) -> Self {
        Self {
            document,
            bin,
            fetch,
            loaded: RefCell::default(),
            unpacked: RefCell::default(),
        }
    }

    fn buffer(&self, index: usize) -> Result<Shared<'a>, SurfaceError> {
        if let Some(known) = self.loaded.borrow().get(&index) {
            return Ok(known.clone());
        }
        let at = format!("buffers[{index}]");
        let buffer = self.document.root.buffers.get(index);
        let buffer = buffer.ok_or_else(|| SurfaceError::invalid(&at, "there is no such buffer"))?;
        let bytes: Cow<'a, [u8]> = match (buffer.uri.as_deref(), self.bin) {
            (Some(uri), _) if is_data(uri) => Cow::Owned(data_uri(uri, &format!("{at}.uri"))?.1),
            (Some(uri), _) => {
                let uri = local_path(uri, &format!("{at}.uri"))?;
                match (self.fetch)(&uri) {
                    Some(bytes) => Cow::Owned(bytes),
                    None => {
                        return Err(SurfaceError::Missing {
                            at: format!("{at}.uri"),
                            uri,
                        });
                    }
                }
            }
            (None, Some(bin)) if index == 0 => Cow::Borrowed(bin),
            (None, _) => return Err(SurfaceError::invalid(&at, "it has no content")),
        };
        let shared = Rc::new(bytes);
        self.loaded.borrow_mut().insert(index, shared.clone());
        Ok(shared)
    }

    fn slice(
        &self,
        buffer: usize,
        offset: u64,
        length: u64,
        at: &str,
    ) -> Result<View<'a>, SurfaceError> {
        let data = self.buffer(buffer)?;
        let end = offset
            .checked_add(length)
            .filter(|end| *end <= data.len() as u64);
        let Some(end) = end else {
            return Err(SurfaceError::invalid(
                at,
                format!(
                    "it takes {length} bytes from {offset} on, and buffer {buffer} has {}",
                    data.len()
                ),
            ));
        };
        Ok(View {
            data,
            range: offset as usize..end as usize,
            stride: None,
        })
    }

    /// The bytes of a buffer view.
    pub(super) fn view(&self, index: usize) -> Result<View<'a>, SurfaceError> {
        let at = format!("bufferViews[{index}]");
        let view = self.document.root.buffer_views.get(index);
        let view =
            view.ok_or_else(|| SurfaceError::invalid(&at, "there is no such buffer view"))?;
        let stride = view.byte_stride.map(|s| s.0);
        let packing = PACKINGS
            .iter()
            .find_map(|n| self.document.extension("bufferViews", index, n));
        if let Some(packing) = packing {
            let data = self.unpack(index, packing, &at)?;
            let range = 0..data.len();
            return Ok(View {
                data,
                range,
                stride,
            });
        }
        let offset = view.byte_offset.map_or(0, |o| o.0);
        let slice = self.slice(view.buffer.value(), offset, view.byte_length.0, &at)?;
        Ok(View { stride, ..slice })
    }

    fn unpack(&self, index: usize, packing: &Value, at: &str) -> Result<Shared<'a>, SurfaceError> {
        if let Some(known) = self.unpacked.borrow().get(&index) {
            return Ok(known.clone());
        }
        let number = |name: &str| packing.get(name).and_then(Value::as_u64);
        let word = |name: &str| packing.get(name).and_then(Value::as_str).unwrap_or("NONE");
        let (Some(buffer), Some(length), Some(count), Some(stride)) = (
            number("buffer"),
            number("byteLength"),
            number("count"),
            number("byteStride"),
        ) else {
            return Err(SurfaceError::invalid(at, "its compression lacks a number"));
        };
        let size = count.saturating_mul(stride);
        if size > MOST_UNPACKED as u64 {
            return Err(SurfaceError::TooLarge {
                at: at.into(),
                what: "unpacked bytes",
                wanted: size,
                limit: MOST_UNPACKED as u64,
            });
        }
        let offset = number("byteOffset").unwrap_or(0);
        let source = self.slice(buffer as usize, offset, length, at)?;
        let bytes = unpacked(
            &source,
            word("mode"),
            word("filter"),
            count as usize,
            stride as usize,
        )
        .map_err(|e| {
            SurfaceError::invalid(at, format!("its compressed data are broken ({e:?})"))
        })?;
        let shared: Shared<'a> = Rc::new(Cow::Owned(bytes));
        self.unpacked.borrow_mut().insert(index, shared.clone());
        Ok(shared)
    }
}

fn unpacked(
    source: &[u8],
    mode: &str,
    filter: &str,
    count: usize,
    stride: usize,
) -> Result<Vec<u8>, PackError> {
    let mut workspace = Workspace::default();
    let mut bytes = match mode {
        "ATTRIBUTES" => codec::decode_vertex_buffer(count, stride, source, &mut workspace)?,
        "TRIANGLES" => codec::decode_index_buffer(count, stride, source, &mut workspace)?,
        "INDICES" => codec::decode_index_sequence(count, stride, source, &mut workspace)?,
        _ => return Err(PackError::InvalidParameter),
    };
    match filter {
        "NONE" => {}
        // A normal without length has no direction to decode: all zero, and so computed anew.
        "OCTAHEDRAL" => match codec::decode_filter_oct(&mut bytes, count, stride, &mut workspace) {
            Err(PackError::NumericalFailure) => bytes.fill(0),
            other => other?,
        },
        "QUATERNION" => codec::decode_filter_quat(&mut bytes, count, stride, &mut workspace)?,
        "EXPONENTIAL" => codec::decode_filter_exp(&mut bytes, count, stride, &mut workspace)?,
        "COLOR" => codec::decode_filter_color(&mut bytes, count, stride, &mut workspace)?,
        _ => return Err(PackError::InvalidParameter),
    }
    Ok(bytes)
}
