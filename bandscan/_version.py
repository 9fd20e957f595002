"""The version, alone, so that the build and the command line read it without importing anything else."""

__version__ = "0.1.0"
