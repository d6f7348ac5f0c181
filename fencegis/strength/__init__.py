"""Will it stand: wires, wind, footings."""
