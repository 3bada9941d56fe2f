"""Turn the models' tables into figures with limits: what SQL cannot say well."""

from pipeline.measure.document import measure_site as measure_site
