"""The second engine: the same sql/ on Spark, for a group of rooms that has outgrown one machine."""

from pipeline.spark.engine import Engine as Engine
from pipeline.spark.engine import open_engine as open_engine
