"""Figures as SVG: rulers of hours and dates, serial strips, lanes of days.

Plain values in, markup out: no models, no clock, no settings. Every figure stands in
per cent of its width with text of a fixed size, so page and print share one source.
"""
