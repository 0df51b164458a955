"""What you hand over: lists, costs, cards, files for the assessor, records to fill in."""

from labkit.paperwork.batch import batch_record
from labkit.paperwork.card import recipe_card
from labkit.paperwork.costs import costing
from labkit.paperwork.ingredients import ingredient_list
from labkit.paperwork.page import Document
from labkit.paperwork.safety import safety_file
from labkit.paperwork.specifying import specification
from labkit.paperwork.stickers import stickers
from labkit.paperwork.weigh_sheet import weigh_sheet

__all__ = [
    "Document",
    "batch_record",
    "costing",
    "ingredient_list",
    "recipe_card",
    "safety_file",
    "specification",
    "stickers",
    "weigh_sheet",
]
