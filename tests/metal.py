"""Invented tables of the stamper station: a study, a register, retirements, measured copies."""

import numpy as np

REGISTER = """
[[piece]]
id = "F1"
matrix = "RT-7-A"
generation = "father"
grown = 2026-02-02
bath = "2"
back_um = 0.3
thickness = [{ hour = 12, radius_mm = 130, um = 231 }, { hour = 4, radius_mm = 130, um = 229 },
             { hour = 8, radius_mm = 130, um = 233 }, { hour = 2, radius_mm = 60, um = 230 }]
kept = "vault 3"
state = "kept"

[[piece]]
id = "M1"
matrix = "RT-7-A"
generation = "mother"
parent = "F1"
grown = 2026-02-05
bath = "2"
back_um = 0.3
thickness = [{ hour = 12, radius_mm = 130, um = 231 }, { hour = 4, radius_mm = 130, um = 229 },
             { hour = 8, radius_mm = 130, um = 233 }, { hour = 2, radius_mm = 60, um = 230 }]
repair = [{ hour = 3, radius_mm = 96, done = "pimple cut away under the microscope" }]
kept = "vault 3"
state = "kept"

[[piece]]
id = "S1"
matrix = "RT-7-A"
generation = "stamper"
parent = "M1"
format = "12in-33"
grown = 2026-02-09
bath = "3"
back_um = 0.5
thickness = [{ hour = 12, radius_mm = 130, um = 204 }, { hour = 3, radius_mm = 130, um = 201 },
             { hour = 6, radius_mm = 130, um = 199 }, { hour = 9, radius_mm = 130, um = 203 },
             { hour = 1, radius_mm = 60, um = 202 }, { hour = 7, radius_mm = 60, um = 201 }]
fault = [{ kind = "stain", hour = 4, radius_mm = 140 }]
kept = "shelf 4"
state = "new"
"""


def metal_tables() -> dict[str, str]:
    """Name and text of every table."""
    rng = np.random.default_rng(8)
    study = ["operator,stamper,repeat,angle_deg,reading_um"]
    for who, bias in (("mb", 0.0), ("ro", 4.0), ("tk", -3.0)):
        for stamper in range(5):
            x, y = 60.0 * np.cos(1.3 * stamper), 60.0 * np.sin(1.3 * stamper)
            for repeat in (1, 2):
                for degrees in range(0, 360, 45):
                    theta = np.radians(degrees)
                    value = 800.0 + (x + bias) * np.cos(theta) + y * np.sin(theta) + 5.0 * rng.standard_normal()
                    study.append(f"{who},S{stamper + 1},{repeat},{degrees},{value:.1f}")
    retired = ["stamper,impressions,worn,reason"]
    for k, life in enumerate(1200.0 * rng.weibull(3.0, 24)):
        worn = life < 1500
        reason = ("noise", "noise", "split", "ticks")[k % 4] if worn else "job done"
        retired.append(f"S{k + 1},{min(int(life), 1500)},{'yes' if worn else 'no'},{reason}")
    copies = ["stamper,impressions,noise_db,treble_db,ticks"]
    for n in range(0, 900, 100):
        noise, treble = -60.0 + 0.005 * n + 0.15 * rng.standard_normal(), -0.001 * n + 0.1 * rng.standard_normal()
        copies.append(f"S1,{n},{noise:.2f},{treble:.2f},{rng.poisson(3.0 + 0.004 * n)}")
    return {
        "study.csv": "\n".join(study) + "\n",
        "retired.csv": "\n".join(retired) + "\n",
        "copies.csv": "\n".join(copies) + "\n",
        "register.toml": REGISTER,
    }
