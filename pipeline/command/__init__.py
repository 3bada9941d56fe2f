"""What each command does with what was typed: one module a family; ``pipeline.cli`` names them and ends the process.

Libraries are imported where they are used, so that help and completion wait for none of them.
"""
