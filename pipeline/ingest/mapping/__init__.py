"""The [[feeds]] tables of site.toml, and their columns and words made ours."""
