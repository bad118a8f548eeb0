//! Joins shader files: a line `#import lib/lab` stands for the text of `shaders/lib/lab.wgsl`,
//! taken once however often it is asked for.

/// Shaders that become modules of their own, by path below `shaders/` without the ending.
pub(crate) const ENTRY_POINTS: &[&str] = &[
    "draw/plain",
    "draw/surface",
    "draw/divider",
    "draw/mip",
    "draw/mix",
    "check/delta_e_2000",
];

/// Text of `module` with its imports before it.
///
/// `read` gives the text of a file by its path below `shaders/`, without the ending.
///
/// # Errors
/// Names the missing import and the file that asked for it.
pub(crate) fn link(module: &str, read: &dyn Fn(&str) -> Option<String>) -> Result<String, String> {
    joined(module, read, Vec::new())
}

/// As [`link`], without the text of `base` and of what that imports: both together are the whole.
///
/// # Errors
/// As [`link`].
#[allow(dead_code, reason = "only the build script takes shaders apart")]
pub(crate) fn link_beyond(
    base: &str,
    module: &str,
    read: &dyn Fn(&str) -> Option<String>,
) -> Result<String, String> {
    let mut taken = Vec::new();
    append(base, "the renderer", read, &mut taken, &mut String::new())?;
    joined(module, read, taken)
}

/// What is `taken` already is left out.
fn joined(
    module: &str,
    read: &dyn Fn(&str) -> Option<String>,
    mut taken: Vec<String>,
) -> Result<String, String> {
    let mut text = String::new();
    append(module, "the renderer", read, &mut taken, &mut text)?;
    Ok(text)
}

fn append(
    module: &str,
    asked_by: &str,
    read: &dyn Fn(&str) -> Option<String>,
    taken: &mut Vec<String>,
    text: &mut String,
) -> Result<(), String> {
    if taken.iter().any(|t| t == module) {
        return Ok(());
    }
    taken.push(module.to_owned());
    let source = read(module)
        .ok_or_else(|| format!("`{module}`, imported by `{asked_by}`, is not there"))?;
    let mut own = String::new();
    for line in source.lines() {
        match line.trim().strip_prefix("#import ") {
            Some(import) => append(import.trim(), module, read, taken, text)?,
            None => {
                own.push_str(line);
                own.push('\n');
            }
        }
    }
    text.push_str(&own);
    Ok(())
}

/// The same shader without comments and indentation, for what a visitor downloads. WGSL has no
/// strings, so `//` always begins a comment (WGSL, section 3.3).
#[allow(
    dead_code,
    reason = "only the build script writes shaders for the browser"
)]
pub(crate) fn compact(source: &str) -> String {
    let mut text = String::with_capacity(source.len());
    for line in source.lines() {
        let code = line.split("//").next().unwrap_or_default().trim();
        if !code.is_empty() {
            text.push_str(code);
            text.push('\n');
        }
    }
    text
}
