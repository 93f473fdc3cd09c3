"""Texts below fields as descriptions in JSON schemas, against pydantic's own reading of them."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, create_model

from fitcheck.documented import DocumentedModel


class OursInside(DocumentedModel):
    """A part."""

    size: float
    """How large it is,

        in mm.
    """


class OursUnder(OursInside):
    """A part that has more."""

    said: Annotated[int, Field(description="stated at the field")] = 0
    """Not this text."""
    named: int = Field(default=0, alias="other")
    """Called something else outside."""
    inside: OursInside
    """A part within the part."""
    bare: OursInside | None = None
    several: list[OursInside] | None = None
    """Parts, or none."""


class PydanticsInside(BaseModel):
    """A part."""

    model_config = ConfigDict(use_attribute_docstrings=True)

    size: float
    """How large it is,

        in mm.
    """


class PydanticsUnder(PydanticsInside):
    """A part that has more."""

    said: Annotated[int, Field(description="stated at the field")] = 0
    """Not this text."""
    named: int = Field(default=0, alias="other")
    """Called something else outside."""
    inside: PydanticsInside
    """A part within the part."""
    bare: PydanticsInside | None = None
    several: list[PydanticsInside] | None = None
    """Parts, or none."""


def test_the_schema_is_the_one_that_pydantic_makes_when_it_reads_the_texts_at_import() -> None:
    ours = str(OursUnder.model_json_schema()).replace("Ours", "Pydantics")
    assert ours == str(PydanticsUnder.model_json_schema())


def test_a_text_below_a_field_describes_it_without_its_indentation() -> None:
    assert OursInside.model_json_schema()["properties"]["size"]["description"] == "How large it is,\n\nin mm."


def test_a_model_made_at_run_time_has_no_source_and_no_descriptions() -> None:
    made = create_model("Made", __base__=DocumentedModel, __module__="nowhere", size=(float, ...))
    assert made.model_json_schema()["properties"] == {"size": {"title": "Size", "type": "number"}}
