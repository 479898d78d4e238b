"""A scan made from a known height field: turned, noisy, with a hole and an overhang."""

import numpy as np


def field(u, v):
    """Heights of an invented relief with waves and raked joints. [m]"""
    waves = 0.004 * np.sin(2 * np.pi * u / 0.11 + 1) * np.cos(2 * np.pi * v / 0.07)
    joints = -0.006 * np.exp(-(((np.mod(v, 0.1) - 0.05) / 0.006) ** 2))
    return waves + joints + 0.002 * np.sin(2 * np.pi * (u + v) / 0.31)


def turning(x_deg, y_deg, z_deg):
    """Rotate about z, then x, then y."""
    x, y, z = np.deg2rad([x_deg, y_deg, z_deg])
    about_x = np.array([[1, 0, 0], [0, np.cos(x), -np.sin(x)], [0, np.sin(x), np.cos(x)]])
    about_y = np.array([[np.cos(y), 0, np.sin(y)], [0, 1, 0], [-np.sin(y), 0, np.cos(y)]])
    about_z = np.array([[np.cos(z), -np.sin(z), 0], [np.sin(z), np.cos(z), 0], [0, 0, 1]])
    return about_y @ about_x @ about_z


# the wall's u, v, n as an upright sample has them: u along x, v along z, the front toward -y
UPRIGHT = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])


def sheet(width, height, spacing, heights=field):
    """Points (u, v, h) and triangles of a height field, wound toward the viewer."""
    columns, rows = round(width / spacing) + 1, round(height / spacing) + 1
    u, v = np.meshgrid(np.linspace(0, width, columns), np.linspace(0, height, rows))
    points = np.stack([u, v, heights(u, v)], axis=-1).reshape(-1, 3)
    k = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    lower = np.stack([k, k + 1, k + columns + 1], axis=1)
    upper = np.stack([k, k + columns + 1, k + columns], axis=1)
    return points, np.concatenate([lower, upper])


def without(points, faces, u, v, radius):
    """Cut a round hole."""
    middle = points[faces].mean(axis=1)
    return faces[np.hypot(middle[:, 0] - u, middle[:, 1] - v) > radius]


def with_shelf(points, faces, u, v, size, above):
    """Add a shelf that hangs over the sheet: front and underside."""
    a, b = size
    corners = np.array([[u, v, above], [u + a, v, above], [u + a, v + b, above], [u, v + b, above]])
    low = corners - [0, 0, 0.001]
    n = len(points)
    more = [[0, 1, 2], [0, 2, 3], [4, 6, 5], [4, 7, 6]]
    return np.vstack([points, corners, low]), np.vstack([faces, np.array(more) + n])


def scanned(points, rotation, noise_m=0.0, shift=(3.0, -2.0, 1.0), seed=7):
    """Place (u, v, h) points in a scan's own axes, with noise."""
    noise = np.random.default_rng(seed).normal(0, noise_m, points.shape) if noise_m else 0.0
    return (points + noise) @ UPRIGHT @ rotation.T + np.array(shift)
