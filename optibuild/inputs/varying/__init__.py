"""Named changes to a case: variations.toml to cases, each exactly what the changed files would give."""
