"""Everything that goes along with an engine, in one file, and taken in from one."""
