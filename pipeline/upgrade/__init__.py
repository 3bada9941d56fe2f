"""Databases of other versions: those of older ones are brought to this one's schema, those of newer ones refused.

A database states the version of its schema in the table ``schema_version``. What the schema of a version was stands in
``schemas/``; how each becomes the next one, in `steps`. The door is `bringing_up.bring_up`; whoever only asks for the
version has it from `versions`, and does not load what the steps need.
"""
