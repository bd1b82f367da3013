"""Athletes and their days; the names stay in persons files."""
