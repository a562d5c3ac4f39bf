"""Curves, contours, regions and exact units: numbers in, numbers out. No files, no clock, no Qt.

Lengths are millimetres, areas square millimetres, angles degrees anticlockwise, and y points up.
"""
