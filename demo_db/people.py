"""The demo's people, all invented. Numbers that begin with 555-01 belong to nobody; example.org is nobody's either."""

PEOPLE = {
    "ines": ("Ines Calder", "leader", False),
    "tobias": ("Tobias Wren", "staff", False),
    "ruth": ("Ruth Okafor-Lind", "leader", False),
    "sam": ("Sam Petrel", "student", False),
    "amara": ("Amara Voss", "student", False),
    "yusuf": ("Yusuf Thornbury", "volunteer", False),
    "mei": ("Mei Castellane", "student", False),
    "oskar": ("Oskar Bright", "volunteer", False),
    "leilani": ("Leilani Marsh", "student", False),
    "dmitri": ("Dmitri Hollis", "volunteer", False),
    "priya": ("Priya Sandoval", "student", False),
    "jonah": ("Jonah Aldergate", "volunteer", True),
    "fatou": ("Fatou Ellery", "student", False),
    "kenji": ("Kenji Rourke", "volunteer", False),
    "marisol": ("Marisol Quill", "volunteer", False),
    "anders": ("Anders Mbeki-Shore", "student", False),
    "noor": ("Noor Fairwater", "volunteer", False),
    "gwen": ("Gwen Tidewell", "volunteer", False),
    "tomas": ("Tomas Eiderdown", "volunteer", True),
    "zora": ("Zora Plover", "student", False),
    "hamish": ("Hamish Liang", "volunteer", False),
    "beatriz": ("Beatriz Heron", "staff", False),
    "elias": ("Elias Cordgrass", "volunteer", False),
    "wanda": ("Wanda Sedge", "visitor", False),
}
"""key: (display name, role, under 18)"""

PRIVATE = {
    "sam": {"phone": "555-0142", "email": "sam@example.org", "emergency_name": "Jo Petrel", "emergency_phone": "555-0143"},
    "jonah": {
        "phone": "555-0151", "emergency_name": "Mira Aldergate", "emergency_phone": "555-0152",
        "guardian_name": "Mira Aldergate", "guardian_phone": "555-0152",
    },
    "tomas": {
        "phone": "555-0161", "emergency_name": "Lucas Eiderdown", "emergency_phone": "555-0162",
        "guardian_name": "Lucas Eiderdown", "guardian_phone": "555-0162",
    },
    "amara": {"phone": "555-0170", "emergency_name": "Ada Voss", "emergency_phone": "555-0171"},
}  # fmt: skip
