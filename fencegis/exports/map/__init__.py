"""The offline map: its layers, panel, register, long section and tools."""
