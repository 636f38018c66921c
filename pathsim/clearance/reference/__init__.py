"""The reference engine: conservative advancement by exact distances. It judges the fast one."""
