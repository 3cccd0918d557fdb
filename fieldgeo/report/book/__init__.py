"""The field book: pages of figures and maps to carry along, as one HTML file and as a PDF."""
