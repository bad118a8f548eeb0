//! Linear DNG, written here after the Digital Negative (DNG) Specification 1.4.0.0: chapters 2 (where
//! the main image is), 4 (the tags) and 5 (from raw values to linear ones).

#![allow(clippy::unwrap_used, reason = "a test may panic")]

use std::io::Cursor;

use ganosis_imaging::{Encoding, Photo};
use tiff::encoder::{Compression, DeflateLevel, TiffEncoder, colortype::RGB16};
use tiff::tags::Tag;

const SIZE: (u32, u32) = (40, 30);

fn codes() -> Vec<u16> {
    (0..SIZE.0 * SIZE.1 * 3)
        .map(|i| (i * 7919 % 5000) as u16)
        .collect()
}

/// By the encoder of the crate `tiff`.
fn encoded(compression: Compression, tags: &[(u16, Vec<u16>)]) -> Vec<u8> {
    let mut file = Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut file)
        .unwrap()
        .with_compression(compression);
    let mut image = encoder.new_image::<RGB16>(SIZE.0, SIZE.1).unwrap();
    let directory = image.encoder();
    directory
        .write_tag(Tag::PhotometricInterpretation, 34892u16)
        .unwrap();
    directory
        .write_tag(Tag::Unknown(50706), &[1u8, 4, 0, 0][..])
        .unwrap();
    for (tag, values) in tags {
        directory
            .write_tag(Tag::from_u16_exhaustive(*tag), &values[..])
            .unwrap();
    }
    image.write_data(&codes()).unwrap();
    file.into_inner()
}

fn read(bytes: Vec<u8>) -> Result<Photo, String> {
    let read = Photo::read(Cursor::new(bytes), "boss.dng", None);
    read.map_err(|e| e.to_string())
}

#[test]
fn levels_are_applied_as_chapter_5_says() {
    let (black, white) = ([64, 32, 0], [4000, 4095, 3000]);
    let levels = [(50714, black.to_vec()), (50717, white.to_vec())];
    for compression in [
        Compression::Uncompressed,
        Compression::Deflate(DeflateLevel::Balanced),
    ] {
        let photo = read(encoded(compression, &levels)).unwrap();
        assert_eq!((photo.width_px, photo.height_px), (40, 30));
        assert_eq!(photo.encoding, Encoding::Linear);
        assert_eq!(photo.encoding_from, "linear DNG");
        for (i, (got, code)) in photo.samples.iter().zip(codes()).enumerate() {
            let (b, w) = (f64::from(black[i % 3]), f64::from(white[i % 3]));
            let light = ((f64::from(code) - b) / (w - b)).clamp(0.0, 1.0);
            assert!((f64::from(*got) / 65535.0 - light).abs() <= 0.5 / 65535.0);
        }
    }
}

#[test]
fn without_levels_the_codes_are_the_light() {
    let photo = read(encoded(Compression::Uncompressed, &[])).unwrap();
    assert_eq!(photo.samples, codes());
}

#[test]
fn the_linearisation_table_comes_first_and_its_last_value_stands_for_all_above() {
    // Squares up to 60, then as the last.
    let table: Vec<u16> = (0..=60).map(|i| i * i).collect();
    let tags = [(50712, table), (50717, vec![3600])];
    let photo = read(encoded(Compression::Uncompressed, &tags)).unwrap();
    for (got, code) in photo.samples.iter().zip(codes()) {
        let light = f64::from(code.min(60)).powi(2) / 3600.0;
        assert!((f64::from(*got) / 65535.0 - light).abs() <= 0.5 / 65535.0);
    }
}

/// A big-endian file by hand: a preview first, the main image in a SubIFD, one pixel each.
fn with_preview(photometric: u16, compression: u16, white: u16) -> Vec<u8> {
    let main_at = 8 + directory_length(10) as u32;
    let main_pixels = main_at + directory_length(9) as u32;
    let mut file = b"MM\0*\0\0\0\x08".to_vec();
    let preview: [Entry; 10] = [
        (254, 4, 1, 1),
        (256, 4, 1, 1),
        (257, 4, 1, 1),
        (258, 3, 1, 8 << 16),
        (259, 3, 1, 1 << 16),
        (262, 3, 1, 1 << 16),
        (273, 4, 1, 4),
        (279, 4, 1, 1),
        (330, 4, 1, main_at),
        (50706, 1, 4, 0x0104_0000),
    ];
    directory(&mut file, &preview);
    let main: [Entry; 9] = [
        (256, 4, 1, 1),
        (257, 4, 1, 1),
        (258, 3, 1, 16 << 16),
        (259, 3, 1, u32::from(compression) << 16),
        (262, 3, 1, u32::from(photometric) << 16),
        (273, 4, 1, main_pixels),
        (277, 3, 1, 3 << 16),
        (279, 4, 1, 6),
        (50717, 3, 1, u32::from(white) << 16),
    ];
    directory(&mut file, &main);
    for code in [100u16, 200, 400] {
        file.extend(code.to_be_bytes());
    }
    file
}

/// Tag, type, count, value: TIFF 6.0, section 2.
type Entry = (u16, u16, u32, u32);

fn directory_length(entries: usize) -> usize {
    2 + 12 * entries + 4
}

fn directory(file: &mut Vec<u8>, entries: &[Entry]) {
    file.extend((entries.len() as u16).to_be_bytes());
    for (tag, kind, count, value) in entries {
        file.extend(tag.to_be_bytes());
        file.extend(kind.to_be_bytes());
        file.extend(count.to_be_bytes());
        file.extend(value.to_be_bytes());
    }
    file.extend([0; 4]);
}

#[test]
fn the_main_image_is_found_behind_a_preview() {
    let photo = read(with_preview(34892, 1, 400)).unwrap();
    assert_eq!((photo.width_px, photo.height_px), (1, 1));
    assert_eq!(photo.samples, [16384, 32768, 65535]);
}

#[test]
fn what_is_no_linear_dng_is_refused_with_what_to_do() {
    for (file, what) in [
        (with_preview(32803, 1, 400), "mosaic"),
        (with_preview(34892, 7, 400), "JPEG"),
        (with_preview(34892, 1, 0), "white level"),
        (with_preview(6, 1, 400), "neither"),
    ] {
        let read = Photo::read(Cursor::new(file), "boss.dng", None);
        let error = read.unwrap_err();
        assert!(error.what.contains(what), "{what}: {}", error.what);
        assert!(error.advice.contains("linear DNG"), "{}", error.advice);
    }
}

#[test]
fn a_file_cut_short_anywhere_is_an_error() {
    let whole = with_preview(34892, 1, 400);
    for length in 0..whole.len() {
        assert!(read(whole[..length].to_vec()).is_err(), "{length}");
    }
}

/// TIFF 6.0, section 8: without BitsPerSample a sample is one bit.
#[test]
fn a_main_image_that_does_not_say_its_bits_is_refused() {
    let whole = with_preview(34892, 1, 400);
    // The tag of an entry, its type SHORT, one value: 16.
    let entry = [1, 2, 0, 3, 0, 0, 0, 1, 0, 16];
    let at = whole.windows(entry.len()).position(|w| w == entry).unwrap();
    let mut without = whole.clone();
    without[at..at + 2].copy_from_slice(&257_u16.to_be_bytes());
    let mut none = whole;
    none[at + 7] = 0;
    for file in [without, none] {
        let error = read(file).unwrap_err();
        assert!(error.contains("three channels"), "{error}");
    }
}
