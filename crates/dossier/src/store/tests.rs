use super::*;

#[test]
fn paths_that_leave_the_dossier_are_refused() {
    for bad in [
        "",
        "/etc/passwd",
        "../x",
        "a/../../x",
        "a//b",
        "./a",
        "a\\b",
        "C:/x",
        "http://x/y",
        "a\0b",
        "a/",
    ] {
        assert!(expect_inside(bad).is_err(), "{bad:?}");
    }
    for good in ["a", "layers/as-found/crown.png", "a..b/c.d", "a b/ä.png"] {
        assert_eq!(expect_inside(good), Ok(()), "{good:?}");
    }
}

#[cfg(all(unix, feature = "folder"))]
#[test]
fn links_are_followed_only_inside_the_folder() {
    use std::os::unix::fs::symlink;
    let outer = tempfile::tempdir().unwrap();
    let root = outer.path().join("dossier");
    std::fs::create_dir(&root).unwrap();
    std::fs::write(outer.path().join("secret"), "s").unwrap();
    std::fs::write(root.join("file"), "0123456789").unwrap();
    symlink(outer.path().join("secret"), root.join("out")).unwrap();
    symlink("file", root.join("in")).unwrap();
    let store = FolderStore::open(&root).unwrap();
    assert!(matches!(store.read("out"), Err(StoreError::Refused { .. })));
    assert_eq!(store.read("in").unwrap(), b"0123456789");
    assert_eq!(store.read_range("file", 8, 9).unwrap(), b"89");
    assert_eq!(store.list().unwrap(), ["file", "in"]);
    assert!(matches!(
        store.read("none"),
        Err(StoreError::NotFound { .. })
    ));
}

#[cfg(feature = "zip")]
mod zipped {
    use std::io::Write;
    use std::path::PathBuf;

    use zip::write::SimpleFileOptions;
    use zip::{CompressionMethod, ZipWriter};

    use super::super::*;

    fn archive(build: impl FnOnce(&mut ZipWriter<std::fs::File>)) -> (tempfile::TempDir, PathBuf) {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.zip");
        let mut writer = ZipWriter::new(std::fs::File::create(&path).unwrap());
        build(&mut writer);
        writer.finish().unwrap();
        (dir, path)
    }

    fn add(writer: &mut ZipWriter<std::fs::File>, name: &str, bytes: &[u8]) {
        let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
        writer.start_file(name, options).unwrap();
        writer.write_all(bytes).unwrap();
    }

    fn refusal(path: &std::path::Path) -> String {
        match ZipStore::open(path) {
            Err(error) => error.to_string(),
            Ok(_) => panic!("the archive was taken"),
        }
    }

    #[test]
    fn a_zipped_folder_reads_like_the_folder() {
        let (_dir, path) = archive(|writer| {
            add(writer, "boss/dossier.json", b"{}");
            add(writer, "boss/layers/a.txt", b"0123456789");
        });
        let store = ZipStore::open(&path).unwrap();
        assert_eq!(store.list().unwrap(), ["dossier.json", "layers/a.txt"]);
        assert_eq!(store.read("layers/a.txt").unwrap(), b"0123456789");
        assert_eq!(store.read_range("layers/a.txt", 3, 4).unwrap(), b"3456");
        assert!(matches!(
            store.read("boss/dossier.json"),
            Err(StoreError::NotFound { .. })
        ));
    }

    #[test]
    fn an_entry_that_climbs_out_is_refused_by_name() {
        let (_dir, path) = archive(|writer| {
            add(writer, "dossier.json", b"{}");
            add(writer, "qq/qq/x", b"x");
        });
        // Same length, so that the archive stays whole otherwise.
        let bytes = std::fs::read(&path).unwrap();
        let mut changed = bytes.clone();
        for at in 0..bytes.len() - 7 {
            if &bytes[at..at + 7] == b"qq/qq/x" {
                changed[at..at + 7].copy_from_slice(b"../../x");
            }
        }
        assert_ne!(bytes, changed);
        std::fs::write(&path, changed).unwrap();
        let message = refusal(&path);
        assert!(
            message.contains("../../x") && message.contains("climbs out"),
            "{message}"
        );
    }

    #[test]
    fn a_symbolic_link_is_refused() {
        let (_dir, path) = archive(|writer| {
            add(writer, "dossier.json", b"{}");
            writer
                .add_symlink("link", "/etc/passwd", SimpleFileOptions::default())
                .unwrap();
        });
        assert!(refusal(&path).contains("symbolic link"));
    }

    #[test]
    fn a_bomb_is_refused_before_it_is_unpacked() {
        let (_dir, path) = archive(|writer| {
            add(writer, "dossier.json", b"{}");
            add(writer, "zeros", &vec![0; 20 << 20]);
        });
        assert!(std::fs::metadata(&path).unwrap().len() < 100_000);
        assert!(refusal(&path).contains("200 times"));
    }

    #[test]
    fn absurd_sizes_are_refused() {
        let (_dir, path) = archive(|writer| {
            add(writer, "dossier.json", b"{}");
            add(writer, "big", &[7; 5000]);
        });
        let limits = |largest_entry_bytes, total_bytes| ZipLimits {
            largest_entry_bytes,
            total_bytes,
            ..ZipLimits::default()
        };
        assert!(ZipStore::open_within(&path, limits(4999, 1 << 20)).is_err());
        assert!(ZipStore::open_within(&path, limits(5000, 5001)).is_err());
        assert!(ZipStore::open_within(&path, limits(5000, 5002)).is_ok());
    }

    #[test]
    fn cut_off_archives_get_a_message() {
        let (_dir, path) = archive(|writer| add(writer, "dossier.json", b"{}"));
        let bytes = std::fs::read(&path).unwrap();
        for end in [0, 4, bytes.len() / 2, bytes.len() - 1] {
            std::fs::write(&path, &bytes[..end]).unwrap();
            assert!(refusal(&path).contains("zip"), "{end}");
        }
    }
}
