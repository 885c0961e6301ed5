"""Words in any language, and the files of text that people edit: templates, TOML, CSV."""
