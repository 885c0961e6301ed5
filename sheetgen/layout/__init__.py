"""Pure: protocol and class settings become one Layout. The only floor that knows where a cell is."""
