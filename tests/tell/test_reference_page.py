"""The reference page is the schema's own: never stale, nothing left out."""

from pathlib import Path

from rakelight.read.faults import inner_model, key_of
from rakelight.scene.tables import SceneTables
from rakelight.tell.reference import reference_page

PAGE = Path(__file__).parents[2] / "scenes" / "REFERENCE.md"


def models(model=SceneTables):
    yield model
    for field in model.model_fields.values():
        found = inner_model(field.annotation)
        if found:
            yield from models(found)


def test_the_committed_page_is_what_the_schema_says():
    # to renew it: python -m rakelight.tell.reference > scenes/REFERENCE.md
    assert PAGE.read_text(encoding="utf-8") == reference_page()


def test_every_key_has_a_description_and_stands_on_the_page():
    page = reference_page()
    for model in models():
        for name, field in model.model_fields.items():
            assert field.description, f"{model.__name__}.{name}"
            assert field.description.endswith((".", ",")), field.description
            if inner_model(field.annotation) is None:
                assert f"| `{key_of(name, field)}` |" in page


def test_keys_are_short_words_without_units():
    for model in models():
        for name, field in model.model_fields.items():
            key = key_of(name, field)
            assert not key.endswith(("_m", "_rad", "_lx", "_k", "_px", "_mm")) or key == "lm_per_m"


def test_si_values_name_their_unit():
    # a key that takes a length, an angle or an illuminance holds SI in a field that says so
    endings = {"length": "_m", "direction": "_rad", "angle": "_rad", "illuminance": "_lx"}
    from rakelight.read.faults import takes

    for model in models():
        for name, field in model.model_fields.items():
            for word, ending in endings.items():
                if takes(field).startswith(word) and name != "backing":
                    assert name.endswith(ending), (model.__name__, name)
